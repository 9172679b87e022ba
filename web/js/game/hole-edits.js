/**
 * Edits of the shots of a hole, as plans: each function takes the shots as they are and answers the records to write,
 * never touching its input. The end of a shot and the start of the next stay one thing: an end is stored only while no
 * next shot tells it.
 *
 * @typedef {import('./shot.js').Shot} Shot
 * @typedef {import('./shot.js').ShotRecord} ShotRecord
 * @typedef {{record_id: string, kind: string, body: any}} Edit `body` null deletes the record
 */
import { LIES, TEE } from './lies.js';
import { provisionalInPlay } from './provisional.js';
import { MOST_BALLS, MOST_SHOTS_A_BALL } from './ranges.js';

/** An edit that the rules of the record do not allow, in words for the player. */
export class NotAllowed extends Error {}

/** @param {string} recordId @param {Shot|null} body @returns {Edit} */
function edit(recordId, body) {
  return { record_id: recordId, kind: 'shot', body };
}

/**
 * The shots of one ball, in the order of play.
 * @template {ShotRecord} T @param {T[]} records @param {number} hole @param {number} ball @returns {T[]}
 */
export function recordsOfBall(records, hole, ball) {
  return records
    .filter((record) => record.body.hole === hole && record.body.ball === ball)
    .sort((a, b) => a.body.order - b.body.order);
}

/** @param {ShotRecord[]} records @param {string} recordId @returns {ShotRecord} */
function find(records, recordId) {
  const found = records.find((record) => record.record_id === recordId);
  if (!found) throw new NotAllowed('this shot was deleted on another device');
  return found;
}

/**
 * Numbers a ball's shots 1, 2, 3 in the order given; only what changes is written.
 * @param {ShotRecord[]} inOrder @returns {Edit[]}
 */
function numbered(inOrder) {
  return inOrder.flatMap((record, place) =>
    record.body.order === place + 1 ? [] : [edit(record.record_id, { ...record.body, order: place + 1 })],
  );
}

/**
 * Merge edits of the same record: later ones win.
 * @param {Edit[]} edits @returns {Edit[]}
 */
function merged(edits) {
  return [...new Map(edits.map((one) => [one.record_id, one])).values()];
}

/**
 * The shot of a ball goes on: after the last one of its ball.
 * @param {ShotRecord[]} records of the round @param {string} recordId of the new shot @param {Omit<Shot, 'order'>} body
 * @returns {Edit[]}
 */
export function addShot(records, recordId, body) {
  const ball = recordsOfBall(records, body.hole, body.ball);
  const last = ball[ball.length - 1];
  if (last?.body.holed) throw new NotAllowed('this ball is already holed');
  if (ball.length >= MOST_SHOTS_A_BALL) throw new NotAllowed(`a ball can have at most ${MOST_SHOTS_A_BALL} shots`);
  const order = (last?.body.order ?? 0) + 1;
  const edits = [
    edit(recordId, /** @type {Shot} */ ({ ...body, order, ...(order === 1 && body.ball === 1 ? { lie: TEE } : {}) })),
  ];
  if (last && (last.body.end_lie || last.body.picked_up)) {
    edits.unshift(edit(last.record_id, { ...last.body, end_lie: null, end_distance_yd: null, picked_up: false }));
  }
  return edits;
}

/**
 * Puts a shot in before another.
 * @param {ShotRecord[]} records @param {string} beforeId @param {string} recordId @param {Omit<Shot, 'order'|'hole'|'ball'>} body
 * @returns {Edit[]}
 */
export function insertShot(records, beforeId, recordId, body) {
  const before = find(records, beforeId);
  const { hole, ball, order } = before.body;
  const inOrder = recordsOfBall(records, hole, ball);
  const fresh = { record_id: recordId, body: /** @type {Shot} */ ({ ...body, hole, ball, order, holed: false }) };
  inOrder.splice(inOrder.indexOf(before), 0, fresh);
  return merged([edit(recordId, fresh.body), ...numbered(inOrder)]);
}

/**
 * Takes a shot out; the later ones of its ball move up.
 * @param {ShotRecord[]} records @param {string} recordId @returns {Edit[]}
 */
export function deleteShot(records, recordId) {
  const gone = find(records, recordId);
  const rest = recordsOfBall(records, gone.body.hole, gone.body.ball).filter((record) => record !== gone);
  return [edit(recordId, null), ...firstFromTee(numbered(rest), rest)];
}

/**
 * Ball 1 begins on the tee: a shot that has become the first says so.
 * @param {Edit[]} edits @param {ShotRecord[]} inOrder @returns {Edit[]}
 */
function firstFromTee(edits, inOrder) {
  const first = inOrder[0];
  if (first?.body.ball !== 1 || first.body.lie === TEE) return edits;
  return merged([...edits, edit(first.record_id, { ...first.body, order: 1, lie: TEE })]);
}

/**
 * Moves a shot to the end of another hole's ball 1.
 * @param {ShotRecord[]} records of the round @param {string} recordId @param {number} toHole @returns {Edit[]}
 */
export function moveShot(records, recordId, toHole) {
  const moved = find(records, recordId);
  if (moved.body.hole === toHole) return [];
  const there = recordsOfBall(records, toHole, 1);
  const last = there[there.length - 1];
  if (last?.body.holed) throw new NotAllowed(`hole ${toHole} is already holed out`);
  const gone = deleteShot(records, recordId).slice(1);
  const body = { ...moved.body, hole: toHole, ball: 1, provisional: false };
  return merged([
    ...gone,
    ...addShot(
      records.filter((record) => record !== moved),
      recordId,
      body,
    ),
  ]);
}

/**
 * Changes fields of a shot.
 * @param {ShotRecord[]} records @param {string} recordId @param {Partial<Shot>} fields @returns {Edit[]}
 */
export function editShot(records, recordId, fields) {
  const record = find(records, recordId);
  const body = { ...record.body, ...fields };
  const inOrder = recordsOfBall(records, body.hole, body.ball);
  const isLast = inOrder[inOrder.length - 1] === record;
  if (body.holed && !isLast) throw new NotAllowed('later shots exist: delete them before this one is holed');
  if (body.picked_up && !isLast) throw new NotAllowed('later shots exist: delete them before this one is picked up');
  if (body.ball === 1 && body.order === 1) body.lie = TEE;
  else if (!LIES.includes(/** @type {any} */ (body.lie))) throw new NotAllowed('this shot needs a lie');
  if (body.holed) Object.assign(body, { end_lie: null, end_distance_yd: null, picked_up: false });
  if (!body.penalty_reason) body.penalty_strokes = 0;
  return [edit(recordId, body)];
}

/**
 * The ball is picked up, lying where `end` says, or nobody knows where.
 * @param {ShotRecord[]} records @param {number} hole @param {number} ball
 * @param {{lie: string, distance_yd: number}|null} end @returns {Edit[]}
 */
export function pickUp(records, hole, ball, end) {
  const inOrder = recordsOfBall(records, hole, ball);
  const last = inOrder[inOrder.length - 1];
  if (!last) throw new NotAllowed('there is no shot to pick up after');
  return editShot(records, last.record_id, {
    picked_up: true,
    holed: false,
    end_lie: end ? end.lie : null,
    end_distance_yd: end ? end.distance_yd : null,
  });
}

/**
 * The provisional becomes the ball in play.
 * @param {ShotRecord[]} records of the round @param {number} hole @param {number} ball @param {string} reason
 * @returns {Edit[]}
 */
export function bringProvisionalIntoPlay(records, hole, ball, reason) {
  const onHole = records.filter((record) => record.body.hole === hole);
  const after = provisionalInPlay(
    onHole.map((record) => record.body),
    ball,
    reason,
  );
  return onHole.flatMap((record, place) =>
    record.body.ball === 1
      ? lostBall(record, after[place])
      : record.body.ball === ball
        ? [edit(record.record_id, after[place])]
        : [],
  );
}

/** @param {ShotRecord} record @param {Shot} after @returns {Edit[]} */
function lostBall(record, after) {
  return after.penalty_reason !== record.body.penalty_reason || after.penalty_strokes !== record.body.penalty_strokes
    ? [edit(record.record_id, after)]
    : [];
}

/**
 * The next free ball number on a hole.
 * @param {ShotRecord[]} records @param {number} hole @returns {number}
 */
export function nextBall(records, hole) {
  const numbers = records.filter((record) => record.body.hole === hole).map((record) => record.body.ball);
  const next = Math.max(1, ...numbers) + 1;
  if (next > MOST_BALLS) throw new NotAllowed(`a hole can have at most ${MOST_BALLS} balls`);
  return next;
}

/**
 * True when the shots of a ball are not numbered 1, 2, 3: two devices wrote at the same time.
 * @param {ShotRecord[]} inOrder @returns {boolean}
 */
export function needsNumbering(inOrder) {
  return inOrder.some((record, place) => record.body.order !== place + 1);
}

/**
 * Numbers a ball's shots again, by number, then by the time they were tapped; a holed shot goes last.
 * @param {ShotRecord[]} inOrder @returns {Edit[]}
 */
export function numberAgain(inOrder) {
  const sorted = [...inOrder].sort(
    (a, b) =>
      Number(a.body.holed ?? false) - Number(b.body.holed ?? false) ||
      a.body.order - b.body.order ||
      String(a.body.at ?? '').localeCompare(String(b.body.at ?? '')) ||
      a.record_id.localeCompare(b.record_id),
  );
  return numbered(sorted);
}

/**
 * The shots of a ball that share their number with another one.
 * @template {ShotRecord} T @param {T[]} inOrder @returns {T[]}
 */
export function numberedTwice(inOrder) {
  return inOrder.filter((record) =>
    inOrder.some((other) => other !== record && other.body.order === record.body.order),
  );
}

/**
 * Of shots that were entered twice, on two phones, those in `chosen` stay. What stays is written into the record with the
 * least id, whichever was chosen: two phones that choose at the same moment, and differently, then have two versions of
 * one shot, and never none. A shot whose number nobody else has stays, unless the chosen ones ended the ball before it.
 * @param {ShotRecord[]} records of the round @param {number} hole @param {number} ball @param {string[]} chosen record ids
 * @returns {Edit[]}
 */
export function keepOnes(records, hole, ball, chosen) {
  const inOrder = recordsOfBall(records, hole, ball);
  const kept = inOrder.filter((record) => chosen.includes(record.record_id));
  const end = kept.find((record) => record.body.holed || record.body.picked_up)?.body.order ?? Number.POSITIVE_INFINITY;
  /** @type {Edit[]} */
  const edits = [];
  for (const order of new Set(inOrder.map((record) => record.body.order))) {
    const same = inOrder.filter((record) => record.body.order === order);
    const mine = same.filter((record) => kept.includes(record));
    if (!mine.length && order > end) edits.push(...same.map((record) => edit(record.record_id, null)));
    if (!mine.length || same.length === mine.length) continue;
    const [keeps] = [...same].sort((a, b) => (a.record_id < b.record_id ? -1 : 1));
    if (keeps !== mine[0]) edits.push(edit(keeps.record_id, mine[0].body));
    edits.push(...same.filter((record) => record !== keeps).map((record) => edit(record.record_id, null)));
  }
  return edits;
}
