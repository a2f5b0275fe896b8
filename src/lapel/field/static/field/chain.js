/**
 * The hash chain of the device, and the ids of its entries; the same bytes as lapel.fieldlog.chain hashes.
 *
 * The canonical text is JSON with keys sorted by code point, no blanks, characters as themselves except those JSON must
 * escape, and no number but the sequence.
 */

import { byCodePoint } from './texts.js';

/** @typedef {import('./types.js').Entry} Entry */

/** What was recorded as one line of JSON, always the same for the same entry.
 *  @param {Entry} entry @returns {string} */
export function canonicalText(entry) {
  const text = JSON.stringify;
  return (
    `{"at":${text(entry.at)},"author":${text(entry.author)},"corrects":${text(entry.corrects ?? '')},` +
    `"device":${text(entry.device)},"fields":${fieldsText(entry.fields)},"id":${text(entry.id)},` +
    `"kind":${text(entry.kind)},"previous_hash":${text(entry.previous_hash ?? '')},` +
    `"reason":${text(entry.reason ?? '')},"sequence":${entry.sequence}}`
  );
}

/** SHA-256 over the entry and the hash before it, as 64 hexadecimal digits.
 *  @param {Entry} entry @returns {Promise<string>} */
export async function entryHash(entry) {
  const digest = await crypto.subtle.digest('SHA-256', new TextEncoder().encode(canonicalText(entry)));
  return Array.from(new Uint8Array(digest), (byte) => byte.toString(16).padStart(2, '0')).join('');
}

/** A UUID of version 7 (RFC 9562, section 5.7): milliseconds since 1970, then random bits.
 *  @param {number} ms @returns {string} */
export function newEntryId(ms) {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  let rest = Math.floor(ms);
  for (let place = 5; place >= 0; place -= 1) {
    bytes[place] = rest % 256;
    rest = Math.floor(rest / 256);
  }
  bytes[6] = 0x70 | ((bytes[6] ?? 0) & 0x0f);
  bytes[8] = 0x80 | ((bytes[8] ?? 0) & 0x3f);
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, '0')).join('');
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-');
}

/** @param {Record<string, string>} fields @returns {string} */
function fieldsText(fields) {
  const names = Object.keys(fields).sort(byCodePoint);
  return `{${names.map((name) => `${JSON.stringify(name)}:${JSON.stringify(fields[name])}`).join(',')}}`;
}
