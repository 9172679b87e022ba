"""Measures of a shown screen: sizes of targets, contrast of text, width."""

from __future__ import annotations

from typing import Final

SMALL_TARGETS: Final = """(least) => {
  const inside = document.querySelector('dialog[open]') ?? document;
  return [...inside.querySelectorAll('a, button, select, input, textarea, summary')]
    .filter((element) => element.checkVisibility({ visibilityProperty: true }))
    .map((element) => ({ element, box: element.getBoundingClientRect() }))
    .filter(({ box }) => box.width > 0 && (box.width < least - 0.01 || box.height < least - 0.01))
    .map(({ element, box }) => {
      const size = `${box.width.toFixed(1)} x ${box.height.toFixed(1)}`;
      return `${element.tagName} ${element.id} "${element.textContent.slice(0, 30)}" ${size}`;
    });
}"""

LOW_CONTRAST: Final = """(least) => {
  const canvas = new OffscreenCanvas(1, 1).getContext('2d', { willReadFrequently: true });
  const rgba = (colour) => {
    canvas.clearRect(0, 0, 1, 1);
    canvas.fillStyle = colour;
    canvas.fillRect(0, 0, 1, 1);
    return [...canvas.getImageData(0, 0, 1, 1).data];
  };
  const light = ([r, g, b]) => {
    const part = (value) => { const c = value / 255; return c <= 0.04045 ? c / 12.92 : ((c + 0.055) / 1.055) ** 2.4; };
    return 0.2126 * part(r) + 0.7152 * part(g) + 0.0722 * part(b);
  };
  const behind = (element) => {
    for (let at = element; at; at = at.parentElement) {
      const colour = rgba(getComputedStyle(at).backgroundColor);
      if (colour[3] === 255) return colour;
    }
    return rgba(getComputedStyle(document.documentElement).backgroundColor);
  };
  const inside = document.querySelector('dialog[open]') ?? document.body;
  const walker = document.createTreeWalker(inside, NodeFilter.SHOW_TEXT);
  const found = [];
  let texts = 0;
  while (walker.nextNode()) {
    const element = walker.currentNode.parentElement;
    if (!walker.currentNode.data.trim() || !element.checkVisibility({ visibilityProperty: true })) continue;
    texts += 1;
    const style = getComputedStyle(element);
    const colour = element instanceof SVGElement ? style.fill : style.color;
    const pair = [light(rgba(colour)), light(behind(element))].sort((a, b) => b - a);
    const ratio = (pair[0] + 0.05) / (pair[1] + 0.05);
    if (ratio < least) found.push(`${ratio.toFixed(2)} "${walker.currentNode.data.trim().slice(0, 40)}"`);
  }
  return { found, texts };
}"""

TOO_WIDE: Final = """() => {
  const room = document.documentElement.clientWidth;
  const scrollers = ['html', 'body', 'main', 'dialog[open]'].map((name) => document.querySelector(name));
  if (scrollers.every((element) => !element || element.scrollWidth <= element.clientWidth + 1)) return [];
  return [...document.querySelectorAll('body *')]
    .map((element) => ({ element, right: element.getBoundingClientRect().right }))
    .filter(({ element, right }) => !element.closest('.strip') && right > room + 1)
    .map(({ element, right }) => `${element.tagName}.${element.className} ${right.toFixed(0)} > ${room}`);
}"""
