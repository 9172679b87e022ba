/** A ZIP file of texts, stored as they are (APPNOTE.TXT 6.3: method 0, names in UTF-8). */

const LOCAL = 0x04034b50;
const CENTRAL = 0x02014b50;
const END = 0x06054b50;
const VERSION = 20;
const UTF8_NAMES = 0x0800;
const CRC_POLYNOMIAL = 0xedb88320;

const CRC_TABLE = Uint32Array.from({ length: 256 }, (_, byte) => {
  let value = byte;
  for (let bit = 0; bit < 8; bit += 1) value = value & 1 ? (value >>> 1) ^ CRC_POLYNOMIAL : value >>> 1;
  return value;
});

/** CRC-32 as ZIP has it (ISO 3309). @param {Uint8Array} bytes @returns {number} */
export function crc32(bytes) {
  let value = 0xffffffff;
  for (const byte of bytes) value = CRC_TABLE[(value ^ byte) & 0xff] ^ (value >>> 8);
  return (value ^ 0xffffffff) >>> 0;
}

/** Numbers in little endian: [value, bytes] each. @param {[number, number][]} fields @returns {Uint8Array<ArrayBuffer>} */
function packed(fields) {
  const bytes = new Uint8Array(fields.reduce((sum, [, size]) => sum + size, 0));
  let at = 0;
  for (const [value, size] of fields) {
    for (let index = 0; index < size; index += 1) bytes[at + index] = (value >>> (8 * index)) & 0xff;
    at += size;
  }
  return bytes;
}

/** The date and time of DOS, two seconds fine. @param {Date} moment @returns {[number, number]} time, date */
function dosTime(moment) {
  const time = (moment.getHours() << 11) | (moment.getMinutes() << 5) | (moment.getSeconds() >> 1);
  return [time, ((moment.getFullYear() - 1980) << 9) | ((moment.getMonth() + 1) << 5) | moment.getDate()];
}

/**
 * @param {{name: string, content: string}[]} files at most 65,535 of them, together under 4 GB @param {Date} [moment] @returns {Blob}
 */
export function zipFile(files, moment = new Date()) {
  const encoder = new TextEncoder();
  const [time, date] = dosTime(moment);
  /** @type {BlobPart[]} */
  const parts = [];
  /** @type {Uint8Array<ArrayBuffer>[]} */
  const central = [];
  let offset = 0;
  for (const { name, content } of files) {
    const [label, bytes] = [encoder.encode(name), encoder.encode(content)];
    /** @type {[number, number][]} */
    const about = [
      [VERSION, 2],
      [UTF8_NAMES, 2],
      [0, 2],
      [time, 2],
      [date, 2],
      [crc32(bytes), 4],
      [bytes.length, 4],
      [bytes.length, 4],
      [label.length, 2],
      [0, 2],
    ];
    const head = packed([[LOCAL, 4], ...about]);
    parts.push(head, label, bytes);
    central.push(packed([[CENTRAL, 4], [VERSION, 2], ...about, [0, 2], [0, 2], [0, 2], [0, 4], [offset, 4]]), label);
    offset += head.length + label.length + bytes.length;
  }
  const size = central.reduce((sum, one) => sum + one.length, 0);
  const end = packed([
    [END, 4],
    [0, 2],
    [0, 2],
    [files.length, 2],
    [files.length, 2],
    [size, 4],
    [offset, 4],
    [0, 2],
  ]);
  return new Blob([...parts, ...central, end], { type: 'application/zip' });
}
