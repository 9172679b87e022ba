/*
 * How this phone shows the app: text size, hand, gloves. A plain script in the head, so that it runs before anything is
 * painted; `ui/this-phone.js` writes what it reads. Nothing of a player is in it. From the second start on the app is kept on the
 * phone, and its own letters are shown (`css/paper.css`).
 */
(() => {
  const KEPT = 'pencilbag this phone';

  function kept() {
    try {
      return JSON.parse(localStorage.getItem(KEPT) ?? '{}') ?? {};
    } catch {
      return {}; // storage is refused, or holds something else: the usual look
    }
  }

  function show() {
    const { text, hand, gloves } = kept();
    const { style, dataset, classList } = document.documentElement;
    style.fontSize = typeof text === 'number' && text > 100 && text <= 200 ? `${text}%` : '';
    dataset.hand = hand === 'left' ? 'left' : 'right';
    classList.toggle('gloves', gloves === true);
  }

  show();
  document.documentElement.classList.toggle('kept', Boolean(navigator.serviceWorker?.controller));
  addEventListener('storage', show); // another tab changed it, or this one
})();
