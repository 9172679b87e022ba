/** Where a shot finished against its target, from two marked positions: offered, never in the place of what was typed. */
import { defaultUnit, fromYards } from '../game/units.js';
import { button, h } from '../ui/elements.js';
import { part } from '../ui/parts.js';
import { earthMap } from './play-position.js';

/**
 * @typedef {import('../game/geodesy.js').Position} Position
 * @typedef {{from: Position, hole: Position, end: Position, finishOf: typeof import('../game/positions.js').finishOf}} Marked
 * @typedef {(fields: any, set: (change: any) => void) => HTMLElement|null} Offer of the finish for what is entered of a shot
 */

/**
 * Where the shot was played and where it ended; null where one of them, or the hole, was not marked. After a penalty the next shot is not
 * played from where this one ended. @param {import('./play.js').Place} place @param {any} shot @param {any} next the shot after it
 * @returns {Promise<Marked|null>}
 */
async function markedEnds(place, shot, next) {
  const { finishOf, holeOf } = await part(() => import('../game/positions.js'));
  const flag = place.data.round.body.holes.find((/** @type {any} */ one) => one.number === shot.hole)?.flag ?? null;
  const end = shot.holed ? flag : shot.penalty_reason ? null : next?.position;
  const hole = end ? holeOf(await earthMap(place), flag)?.place : null;
  return hole ? { from: shot.position, hole, end, finishOf } : null;
}

/**
 * @param {any} fields of the shot @param {Marked} marked @param {'yards'|'metres'|undefined} units @param {(change: any) => void} set
 * @returns {HTMLElement|null}
 */
function finishOffer(fields, { from, hole, end, finishOf }, units, set) {
  const found = finishOf(from, hole, end, fields.target_yd);
  if (!found) return null;
  const unit = defaultUnit('fairway', units);
  const shown = (/** @type {number} */ yards, /** @type {string} */ more, /** @type {string} */ less) =>
    `${Math.round(fromYards(Math.abs(yards), unit))} ${unit} ${yards < 0 ? less : more}`;
  const open = (/** @type {string} */ name) => typeof fields[name] !== 'number';
  const missing = Object.fromEntries(
    Object.entries({ right_yd: found.right_yd, long_yd: found.long_yd })
      .filter(([name]) => open(name))
      .map(([name, yards]) => [name, Number(yards.toFixed(1))]),
  );
  const target = fields.target_yd ? 'the intended distance' : 'the hole';
  return h(
    'div',
    { class: 'row', id: 'finish-marked' },
    h(
      'p',
      null,
      `By position, against ${target} on the line to the hole: ${shown(found.right_yd, 'right', 'left')}, ${shown(found.long_yd, 'long', 'short')}, ±${Math.ceil(found.within_m)} m.`,
    ),
    Object.keys(missing).length ? button('Use it', () => set(missing), { id: 'use-marked' }) : null,
  );
}

/** @param {import('./play.js').Place} place @param {any} shot @param {any} next the shot after it @returns {Promise<Offer|null>} */
export async function offerOf(place, shot, next) {
  const marked = await markedEnds(place, shot, next);
  return marked && ((fields, set) => finishOffer(fields, marked, place.session.units, set));
}
