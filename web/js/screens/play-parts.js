/** The parts of the play screen that only show: the strip of holes, the shots so far, the end of a hole. */
import { SCHEMES } from '../game/categories.js';
import { recordsOfBall } from '../game/hole-edits.js';
import { holeScore, holeWords, toParWords } from '../game/score.js';
import { byCategory, byHole, total } from '../game/summaries.js';
import { spoken } from '../game/units.js';
import { button, h } from '../ui/elements.js';
import { LOCK_WORDS } from './locked.js';
import { labels } from './round-data.js';
import { shotSheet } from './shot-sheet.js';
import { CATEGORY_WORDS, REASON_WORDS, counted, gained, tone } from '../ui/words.js';

/** @typedef {import('./play.js').Place} Place */

/** The holes as a row of the card: number and score. @param {Place} place */
export function holeStrip(place) {
  return h(
    'nav',
    { class: 'strip', 'aria-label': 'Holes', tabindex: '0' },
    place.data.score.holes.map((score) =>
      h(
        'a',
        {
          href: `#/round/${place.round_id}/${score.hole}`,
          id: `hole-${score.hole}`,
          'aria-current': score.hole === place.hole.number ? 'page' : null,
          'aria-label': `Hole ${score.hole}, ${stateWords(score)}`,
        },
        h('span', { class: 'strip-number' }, score.hole),
        h(
          'span',
          { class: 'strip-score' },
          score.state === 'holed' ? score.strokes : score.state === 'picked_up' ? '×' : score.shots ? '…' : '·',
        ),
      ),
    ),
  );
}

/** @param {import('../game/score.js').HoleScore} score @returns {string} */
function stateWords(score) {
  if (score.state === 'holed') return `${score.strokes} strokes`;
  if (score.state === 'picked_up') return 'picked up';
  return score.shots ? 'being played' : 'not played';
}

/** @param {Place} place */
export function shotList(place) {
  const { data, hole, session } = place;
  const label = labels(data.clubs);
  const values = new Map(data.valued.map((row) => [row.record_id, row.value]));
  const rows = recordsOfBall(data.shots, hole.number, place.ball).map((record) =>
    shotRow(place, record, label, values.get(record.record_id)),
  );
  const score = holeScore(
    data.shots.map((record) => record.body),
    hole,
  );
  const sum = byHole(data.valued).get(hole.number);
  const round = total(data.valued);
  const plain = data.locked || data.caddying !== null;
  return h(
    'section',
    { class: 'shots', 'aria-label': 'Shots of this hole' },
    h('ol', null, rows),
    h(
      'dl',
      { class: plain ? 'sums plain' : 'sums' },
      h('dt', null, 'hole'),
      h('dd', null, score.strokes ? counted(score.strokes, 'stroke') : 'no shot yet'),
      plain ? null : h('dd', { class: tone(sum?.strokes_gained) }, gained(sum?.strokes_gained ?? null)),
      h('dt', null, 'round'),
      h(
        'dd',
        null,
        data.score.done ? `${toParWords(data.score.to_par)} (${counted(data.score.done, 'hole')})` : 'no hole finished',
      ),
      plain ? null : h('dd', { class: tone(round.strokes_gained) }, gained(round.shots ? round.strokes_gained : null)),
    ),
    data.locked
      ? h(
          'details',
          { class: 'lock' },
          h('summary', null, 'Score only: a competition round is open'),
          h('p', null, LOCK_WORDS),
        )
      : null,
    !session.baseline && !plain
      ? h('p', { class: 'hint' }, 'No baseline on this phone yet: values appear after the first connection.')
      : null,
  );
}

/**
 * @param {Place} place @param {any} record @param {(id: string) => string} label @param {any} value
 */
function shotRow(place, record, label, value) {
  const shot = record.body;
  const penalty = shot.penalty_reason
    ? ` · ${REASON_WORDS[shot.penalty_reason]}${shot.penalty_strokes ? ` +${shot.penalty_strokes}` : ''}`
    : '';
  const end = shot.holed ? ' · holed' : shot.picked_up ? ' · picked up' : '';
  const told = toldWords(shot);
  const from = `${shot.lie} ${spoken(shot.distance_yd, shot.lie, place.session.units)}`;
  return h(
    'li',
    null,
    button(
      [
        h('span', { class: 'shot-number' }, shot.order),
        h(
          'span',
          { class: 'shot-words' },
          `${from} · ${label(shot.club_id)}${penalty}${end}`,
          told ? h('span', { class: 'shot-told' }, told) : null,
        ),
        place.data.locked
          ? null
          : h('span', { class: `shot-value ${tone(value?.strokes_gained)}` }, gained(value?.strokes_gained ?? null)),
      ],
      () => shotSheet(place, record.record_id),
      {
        class: 'shot',
        id: `shot-${record.record_id}`,
        'aria-label': `Shot ${shot.order}: ${from}, ${label(shot.club_id)}${penalty}${end}${told ? `, ${told}` : ''}. Edit`,
      },
    ),
  );
}

/** What the player told of a shot beside where and with what: "planned low draw, toe". @param {import('../game/shot.js').Shot} shot */
function toldWords({ planned_height: height, planned_shape: shape, strike }) {
  const planned = [height && shape ? height : height && `${height} flight`, shape].filter(Boolean).join(' ');
  return [planned && `planned ${planned}`, strike && `strike ${strike}`].filter(Boolean).join(', ');
}

/** @param {Place} place */
export function holeDone(place) {
  const { data, hole, session } = place;
  const score = data.score.holes.find((one) => one.hole === hole.number);
  if (place.ball !== 1) return h('section', { class: 'done' }, h('p', { class: 'done-words' }, 'This ball is done.'));
  const words = score?.state === 'picked_up' ? 'Picked up: no score' : holeWords(score?.strokes ?? 0, hole.par);
  const onHole = data.valued.filter((row) => row.shot.hole === hole.number);
  return h(
    'section',
    { class: 'done' },
    h('p', { class: 'done-words' }, words),
    data.locked || !onHole.length
      ? null
      : h(
          'ul',
          { class: 'done-values' },
          byCategory(onHole, SCHEMES[session.scheme.name])
            .filter((row) => row.shots)
            .map((row) =>
              h('li', { class: tone(row.strokes_gained) }, `${CATEGORY_WORDS[row.name]} ${gained(row.strokes_gained)}`),
            ),
        ),
  );
}
