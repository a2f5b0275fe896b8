/** The text in the QR code of a kit sheet; described in docs/reference/kit-sheet-code.md. */

import { isNumber } from './checks.js';
import { toLpm } from './numbers/units.js';

/** @typedef {{port: string, medium: string, catalogue: string, lot: string, intended: string, supplier: string}} KitPort */
/** @typedef {{pump: string, unit: string, ports: KitPort[]}} KitCode */

const MARK = 'LAPEL KIT ';

/** Whether a text claims to be a kit sheet's, of this edition or another. @param {string} text */
export const isKitCode = (text) => text.startsWith(MARK);

/** @param {string} text @returns {KitCode | null} Null where it is not as the reference says, or of another edition. */
export function readKitCode(text) {
  const [[mark, pump = '', unit = '', ...more] = [], ...rest] = text.split('|').map((part) => part.split(';').map(plain));
  if (mark !== `${MARK}1` || more.length > 0 || Number.isNaN(toLpm(1, unit))) return null;
  const ports = rest.map(([port = '', medium = '', catalogue = '', lot = '', intended = '', supplier = '']) => {
    return { port, medium, catalogue, lot, intended, supplier };
  });
  const isWhole = rest.length > 0 && rest.every((fields) => fields.length === 6);
  const isSound = ports.every(({ port, intended, supplier }) => /^[A-Z]$/.test(port) && [intended, supplier].every(isFlow));
  const isOnce = new Set(ports.map((one) => one.port)).size === ports.length;
  return isWhole && isSound && isOnce ? { pump, unit, ports } : null;
}

/** @param {string} text */
const isFlow = (text) => text === '' || (isNumber(text) && Number(text) > 0);

/** What is written behind percent signs; as it stands where they are none. @param {string} text @returns {string} */
function plain(text) {
  try {
    return decodeURIComponent(text);
  } catch {
    return text;
  }
}
