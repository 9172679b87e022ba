/*
 * How this phone shows the app: text size, hand, gloves. A plain script in the head, so that it runs before anything is
 * painted; `ui/this-phone.js` writes what it reads. Nothing of a player is in it. Its own letters are shown
 * once they are kept on the phone (`css/paper.css`).
 */
(() => {
  const KEPT = 'pencilbag this phone';
  const SHOWN = 'pencilbag letters';
  const LETTERS = ['/fonts/letters.woff2', '/fonts/figures-italic.woff2'];

  function kept() {
    try {
      return JSON.parse(localStorage.getItem(KEPT) ?? '{}') ?? {};
    } catch {
      return {}; // storage is refused, or holds something else: the usual look
    }
  }

  function lettersShown() {
    try {
      return localStorage.getItem(SHOWN) === 'yes';
    } catch {
      return false;
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
  // Whether the letters are kept is known too late for this start, whose page would move: it holds for the next.
  document.documentElement.classList.toggle('kept', Boolean(navigator.serviceWorker?.controller) && lettersShown());
  if (navigator.serviceWorker?.controller)
    Promise.all(LETTERS.map((path) => caches.match(path))).then(
      (held) => localStorage.setItem(SHOWN, held.every(Boolean) ? 'yes' : ''),
      () => undefined, // storage is refused: the phone's own letters
    );
  addEventListener('storage', show); // another tab changed it, or this one
})();
