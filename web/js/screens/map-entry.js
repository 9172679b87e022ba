/**
 * What has been typed of a hole's map, as the screen has it, and the form that it becomes. Yards throughout.
 *
 * @typedef {import('../game/map-form.js').HoleForm} HoleForm @typedef {import('../game/map-form.js').Fault} Fault
 * @typedef {{kind: string, side: string, begins_yd: number|null, part: boolean, from_yd: number|null, to_yd: number|null}} TroubleEntry
 * @typedef {{length_yd: number|null, green_depth_yd: number|null, green_width_yd: number|null, rows: {at: number|null, width: number|null}[], bend: {side: 'left'|'straight'|'right', by: number|null}, trouble: TroubleEntry[]}} Entry
 */
import { LONG, SHORT, formFaults } from '../game/map-form.js';
import { fromYards } from '../game/units.js';

/** Where a fairway's width is asked for, as long as the hole reaches so far: where drives end. Choices of this tool. */
const DEFAULT_AT_YD = [220, 270];
const BEFORE_GREEN_YD = 30;
/** What the drawing uses where nothing is typed yet. */
const DRAWN_AS = { green_depth_yd: 28, green_width_yd: 24 };

/** @param {number} lengthYd @param {number} par @returns {Entry} */
export function freshEntry(lengthYd, par) {
  const ats = par === 3 ? [] : DEFAULT_AT_YD.filter((at) => at <= lengthYd - BEFORE_GREEN_YD);
  const rows = (ats.length ? ats : [null]).map((at) => ({ at, width: null }));
  return {
    length_yd: lengthYd,
    green_depth_yd: null,
    green_width_yd: null,
    rows: [...rows, ...(rows.length < 2 ? [{ at: null, width: null }] : [])],
    bend: { side: 'straight', by: null },
    trouble: [],
  };
}

/** @param {HoleForm} form as it was saved @returns {Entry} */
export function entryOf(form) {
  const rows = (form.fairway ?? []).map(([at, width]) => ({ at, width }));
  while (rows.length < 2) rows.push({ at: null, width: null });
  const bend = form.bend_yd ?? 0;
  return {
    length_yd: form.length_yd,
    green_depth_yd: form.green_depth_yd,
    green_width_yd: form.green_width_yd,
    rows,
    bend: { side: bend === 0 ? 'straight' : bend < 0 ? 'left' : 'right', by: bend === 0 ? null : Math.abs(bend) },
    trouble: (form.trouble ?? []).map((one) => ({
      kind: one.kind,
      side: one.side,
      begins_yd: one.begins_yd,
      part: (one.from_yd ?? null) !== null || (one.to_yd ?? null) !== null,
      from_yd: one.from_yd ?? null,
      to_yd: one.to_yd ?? null,
    })),
  };
}

/**
 * The form, and the id of the input behind each field that can be at fault. A width that was left empty is not asked for.
 * @param {Entry} entry @returns {{form: HoleForm, inputs: Record<string, string>}}
 */
export function formOf(entry) {
  /** @type {Record<string, string>} */
  const inputs = {
    length_yd: 'map-length',
    green_depth_yd: 'map-depth',
    green_width_yd: 'map-width',
    bend_yd: 'map-bend',
    fairway: 'map-at-2',
  };
  /** @type {[number|null, number|null][]} */
  const fairway = [];
  entry.rows.forEach(({ at, width }, place) => {
    if (width === null) return;
    fairway.push([at, width]);
    inputs[`fairway ${fairway.length}, distance`] = `map-at-${place + 1}`;
    inputs[`fairway ${fairway.length}, width`] = `map-wide-${place + 1}`;
  });
  const trouble = entry.trouble.map((one, place) => {
    inputs[`trouble ${place + 1}, begins_yd`] = `map-begins-${place + 1}`;
    inputs[`trouble ${place + 1}`] = `map-from-${place + 1}`;
    const part = one.part && one.side !== SHORT && one.side !== LONG;
    return {
      kind: one.kind,
      side: one.side,
      begins_yd: one.begins_yd,
      from_yd: part ? one.from_yd : null,
      to_yd: part ? one.to_yd : null,
    };
  });
  const { side, by } = entry.bend;
  const bend_yd = side === 'straight' ? 0 : /** @type {any} */ (by === null ? null : side === 'left' ? -by : by);
  return {
    form: {
      length_yd: entry.length_yd,
      green_depth_yd: entry.green_depth_yd,
      green_width_yd: entry.green_width_yd,
      fairway,
      bend_yd,
      trouble,
    },
    inputs,
  };
}

/**
 * A form that can be drawn while it is being typed: what is missing is drawn as usual or left out, and named; the faults while a
 * number is outside its range. @param {Entry} entry @returns {{form: HoleForm, missing: string[]}|{faults: Fault[]}}
 */
export function drawable(entry) {
  const { form } = formOf(entry);
  const missing = [];
  if (form.green_depth_yd === null) missing.push('the green’s depth');
  if (form.green_width_yd === null) missing.push('the green’s width');
  const complete = {
    ...form,
    green_depth_yd: form.green_depth_yd ?? DRAWN_AS.green_depth_yd,
    green_width_yd: form.green_width_yd ?? DRAWN_AS.green_width_yd,
    fairway: (form.fairway ?? []).filter(([at]) => at !== null),
    bend_yd: form.bend_yd ?? 0,
    trouble: (form.trouble ?? []).filter((one) => one.begins_yd !== null),
  };
  const faults = formFaults(complete);
  return faults.length ? { faults } : { form: complete, missing };
}

const NAMES = /** @type {Record<string, string>} */ ({
  length_yd: 'Length',
  green_depth_yd: 'Green, depth',
  green_width_yd: 'Green, width',
  bend_yd: 'Bend',
});

/**
 * A fault in the player's words and unit: the field, what was typed, and the range.
 * @param {Fault} fault @param {import('../game/units.js').Unit} unit @returns {string}
 */
export function faultSentence(fault, unit) {
  const name =
    NAMES[fault.field] ?? `${fault.field[0].toUpperCase()}${fault.field.slice(1)}`.replace('begins_yd', 'begins');
  if (fault.words)
    return `${name}: ${unit === 'm' ? fault.words.replace(/from (\S+) to (\S+) yd/, (_, from, to) => `from ${shown(Number(from), unit)} to ${shown(Number(to), unit)} m`) : fault.words}.`;
  const bend = fault.field === 'bend_yd'; // typed as a length to one side
  const low = Math.ceil(fromYards(bend ? 0 : Number(fault.low), unit) * 10) / 10; // inwards, so that both ends can be typed
  const high = Math.floor(fromYards(Number(fault.high), unit) * 10) / 10;
  const range = `${low} to ${high} ${unit}`;
  if (fault.value === null || fault.value === undefined) return `${name}: nothing is entered; enter ${range}.`;
  const value = Number(fault.value);
  return `${name}: ${shown(bend ? Math.abs(value) : value, unit)} is outside ${range}.`;
}

/** A length as it is typed: whole or with one decimal. @param {number} yards @param {import('../game/units.js').Unit} unit @returns {number} */
export function shown(yards, unit) {
  return Math.round(fromYards(yards, unit) * 10) / 10;
}
