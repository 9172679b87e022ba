/** Style sheets that only some screens need, each loaded once when it is first asked for. */

/** @param {string} href @returns {Promise<void>} settled also when it cannot be had */
export function styleSheet(href) {
  if (document.querySelector(`link[href="${href}"]`)) return Promise.resolve();
  return new Promise((resolve) => {
    const link = document.createElement('link');
    link.rel = 'stylesheet';
    link.href = href;
    link.onload = () => resolve();
    link.onerror = () => {
      link.remove(); // asked for again next time
      resolve();
    };
    document.head.append(link);
  });
}

/** What drawings of holes need. */
export const HOLES = '/css/holes.css';
