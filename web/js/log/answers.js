/**
 * What counts as an answer of our server. A hotspot's sign-in page with status 200, a cut-off body or a proxy's error page
 * is a failure of the way there, never an answer: nothing is concluded from it.
 */

/**
 * Why the server refuses, as it says so (RFC 9457). `errors`: what is wrong with which field.
 * @typedef {{title?: string, detail?: string, status?: number, errors?: {field: string, message: string}[]}} Problem
 */

/**
 * `kind`: offline (no answer), foreign (somebody else answered), sign_in (whoever is signed in here may not do this),
 * erased (the player is, on the server), ended (a caddie's time is over), full (the server has no room for more of this player: what waits stays here),
 * refused (our server said no, `problem` says why), busy, stopped (by whoever asked).
 */
export class ExchangeFailure extends Error {
  /**
   * @param {'offline'|'foreign'|'sign_in'|'erased'|'ended'|'full'|'refused'|'busy'|'stopped'} kind @param {string} words
   * @param {{status?: number, problem?: Problem|null}} [more]
   */
  constructor(kind, words, more = {}) {
    super(words);
    this.name = 'ExchangeFailure';
    this.kind = kind;
    this.status = more.status ?? 0;
    this.problem = more.problem ?? null;
  }
}

const FOREIGN = 'another page answered instead of the server, perhaps the network’s sign-in page';
/** The server's pages have about 4 MB, the answer to a push 8 MB; own data and evidence stay below this. */
const MOST_BYTES = 64_000_000;
const BUSY_STATUS = [408, 425, 429];
const IN_PARTS = 'application/json-seq';
const RECORD = '\u001e';
const NO_CONTENT = 204;
const GONE = 410;
const UNAVAILABLE = 503;
const NO_ROOM = 507;

/** @param {number} status @returns {boolean} whether the same request may do later; every trouble of the server's own is such */
function isBusy(status) {
  return status >= 500 || BUSY_STATUS.includes(status);
}

/**
 * Asks the server; the JSON of a good answer (null when a change has none), else an ExchangeFailure.
 * @param {typeof fetch} fetcher @param {string} address @param {RequestInit} [request]
 * @param {number} [patienceMs] for the full answer; with `done` for each of its parts
 * @param {{done?: (share: number) => void, stopped?: AbortSignal}} [more] `done`: gets the share of the work that is done,
 * where the server answers in parts; `stopped`: whoever asked wants it no more
 * @returns {Promise<any>}
 */
export async function ask(fetcher, address, request = {}, patienceMs = 30_000, { done, stopped } = {}) {
  const stop = new AbortController();
  const end = () => stop.abort();
  let timer = setTimeout(end, patienceMs);
  stopped?.addEventListener('abort', end);
  if (stopped?.aborted) end();
  const inParts = done ? { headers: { accept: `${IN_PARTS}, application/json` } } : {};
  const part = (/** @type {number} */ share) => {
    clearTimeout(timer);
    timer = setTimeout(end, patienceMs);
    done?.(share);
  };
  try {
    const asked = {
      cache: /** @type {const} */ ('no-store'),
      credentials: /** @type {const} */ ('same-origin'),
      redirect: /** @type {const} */ ('manual'),
    };
    const response = await fetchAgain(
      fetcher,
      address,
      { ...asked, ...inParts, signal: stop.signal, ...request },
      patienceMs,
    );
    if (response.status === NO_CONTENT && request.method && request.method !== 'GET') return null;
    return await read(response, part);
  } catch (error) {
    if (stopped?.aborted) throw new ExchangeFailure('stopped', 'stopped before the answer came');
    if (error instanceof ExchangeFailure) throw error;
    throw new ExchangeFailure('offline', 'the server cannot be reached');
  } finally {
    clearTimeout(timer);
    stopped?.removeEventListener('abort', end);
  }
}

/**
 * Fetches; a server that is busy and says for how long (503 with Retry-After) is asked again, as long as patience lasts.
 * @param {typeof fetch} fetcher @param {string} address @param {RequestInit} request @param {number} patienceMs
 * @returns {Promise<Response>}
 */
export async function fetchAgain(fetcher, address, request, patienceMs) {
  const ends = performance.now() + patienceMs;
  for (;;) {
    const response = await fetcher(address, request);
    const seconds = Number.parseInt(response.headers.get('retry-after') ?? '', 10);
    const waitMs = 1000 * seconds * (1 + Math.random() / 4); // phones that were sent away together come back one by one
    if (response.status !== UNAVAILABLE || !(waitMs >= 0) || performance.now() + waitMs >= ends) return response;
    await response.body?.cancel();
    await new Promise((done) => setTimeout(done, waitMs));
  }
}

/** @param {Response} response @param {(share: number) => void} part @returns {Promise<any>} */
async function read(response, part) {
  const type = (response.headers.get('content-type') ?? '').split(';')[0].trim().toLowerCase();
  if (response.type !== 'opaqueredirect' && response.ok && type === IN_PARTS) return readParts(response, part);
  const isJson = type === 'application/json' || type === 'application/problem+json';
  if (response.type === 'opaqueredirect' || !isJson) {
    const busy = isBusy(response.status);
    throw new ExchangeFailure(busy ? 'busy' : 'foreign', busy ? 'the server is busy' : FOREIGN, {
      status: response.status,
    });
  }
  let value;
  try {
    value = JSON.parse(await textOf(response));
  } catch {
    throw new ExchangeFailure('foreign', 'the answer was cut off or garbled', { status: response.status });
  }
  if (response.ok && type === 'application/json') return value;
  throw failureOf(response.status, value);
}

/**
 * An answer in parts, a JSON text sequence (RFC 7464): how far the work is, and last the answer or a problem.
 * @param {Response} response @param {(share: number) => void} part @returns {Promise<any>}
 */
async function readParts(response, part) {
  /** @type {any} */
  let last = null;
  let rest = '';
  const take = (/** @type {string} */ more) => {
    const records = (rest + more).split('\n'); // no line break is within a record
    rest = records.pop() ?? '';
    for (const record of records) {
      last = JSON.parse(record.startsWith(RECORD) ? record.slice(1) : record);
      if (typeof last.done === 'number') part(last.done);
    }
  };
  try {
    await textOf(response, take);
  } catch (error) {
    if (error instanceof SyntaxError) throw new ExchangeFailure('foreign', 'the answer was cut off or garbled');
    throw error;
  }
  if (last?.problem) throw failureOf(last.problem.status, last.problem);
  if (!last || !('answer' in last) || rest) throw new ExchangeFailure('foreign', 'the answer was cut off or garbled');
  return last.answer;
}

/**
 * The text of an answer, or with `take` piece by piece to that. One that does not end is given up, before it fills the
 * phone's memory.
 * @param {Response} response @param {(piece: string) => void} [take] @returns {Promise<string>}
 */
async function textOf(response, take) {
  const reader = response.body?.getReader();
  if (!reader) {
    const all = await response.text();
    take?.(all);
    return all;
  }
  const decoder = new TextDecoder();
  let text = '';
  let bytes = 0;
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return text + decoder.decode();
    bytes += value.length;
    if (bytes > MOST_BYTES) {
      await reader.cancel();
      throw new RangeError('the answer is too large');
    }
    const piece = decoder.decode(value, { stream: true });
    if (take) take(piece);
    else text += piece;
  }
}

/** @param {number} status @param {Problem|null} problem @returns {ExchangeFailure} */
function failureOf(status, problem) {
  const words = problem?.detail || problem?.title || `the server answered ${status}`;
  if (status === 401 || status === 403) return new ExchangeFailure('sign_in', words, { status, problem });
  if (status === GONE) return new ExchangeFailure('erased', words, { status, problem });
  if (status === NO_ROOM)
    return new ExchangeFailure('full', 'the server has no space left for this player', { status, problem });
  if (isBusy(status)) return new ExchangeFailure('busy', words, { status, problem });
  return new ExchangeFailure('refused', words, { status, problem });
}

/** @param {unknown} value @returns {value is string[]} */
function areIds(value) {
  return Array.isArray(value) && value.every((id) => typeof id === 'string' && id.length > 0);
}

/**
 * A push's answer, checked. @param {any} value parsed JSON
 * @returns {{acknowledged: string[], quarantined: {change_id: string, problem: Problem}[], now: string|null}}
 */
export function pushAnswer(value) {
  const quarantined = value?.quarantined;
  const sound =
    areIds(value?.acknowledged) &&
    Array.isArray(quarantined) &&
    quarantined.every((one) => typeof one === 'object' && one !== null && 'change_id' in one);
  if (!sound) throw new ExchangeFailure('foreign', FOREIGN);
  return { acknowledged: value.acknowledged, quarantined, now: value.now ?? value.received_at ?? null };
}

/** @param {any} change parsed JSON @returns {change is ServerChange} */
function isChange(change) {
  return (
    typeof change?.change_id === 'string' &&
    typeof change.record_id === 'string' &&
    typeof change.kind === 'string' &&
    areIds(change.parents) &&
    (change.op === 'put' || change.op === 'delete') &&
    typeof change.effective_time === 'string'
  );
}

/** A change as the server has it. @typedef {import('./fold.js').TimedChange & {seq: number|null}} ServerChange */

/**
 * A page of changes, checked. @param {any} value parsed JSON
 * @returns {{changes: ServerChange[], cursor: string|null, more: boolean, reset: boolean, now: string|null, mark: string|null}} `mark`: in a
 * caddie's round, of what entering needs beside the log
 */
export function pageAnswer(value) {
  const cursor = value?.cursor ?? null;
  const sound =
    Array.isArray(value?.changes) &&
    value.changes.every(isChange) &&
    (cursor === null || (typeof cursor === 'string' && cursor.includes(':'))) &&
    typeof value.more === 'boolean' &&
    (!value.changes.length || cursor !== null);
  if (!sound) throw new ExchangeFailure('foreign', FOREIGN);
  const mark = typeof value.mark === 'string' ? value.mark : null;
  return {
    changes: value.changes,
    cursor,
    more: value.more,
    reset: value.reset === true,
    now: value.now ?? null,
    mark,
  };
}
