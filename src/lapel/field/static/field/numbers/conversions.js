/** Made from lapel.figures.units by `python -m lapel.field.kinds_module`; change it there. */

/** The unit everything is computed in, by what it measures. @type {Record<string, string>} */
export const CANONICAL = {
 "flow": "L/min",
 "volume": "L",
 "temperature": "K",
 "pressure": "kPa"
};

/** Scale and offset from a unit, in lower case, to the canonical one, as decimals.
 *  @type {Record<string, Record<string, [scale: string, offset: string]>>} */
export const CONVERSIONS = {
 "flow": {
  "ml/min": [
   "0.001",
   "0.000"
  ],
  "l/min": [
   "1",
   "0"
  ],
  "cc/min": [
   "0.001",
   "0.000"
  ],
  "ccm": [
   "0.001",
   "0.000"
  ],
  "mlpm": [
   "0.001",
   "0.000"
  ],
  "lpm": [
   "1",
   "0"
  ]
 },
 "volume": {
  "ml": [
   "0.001",
   "0.000"
  ],
  "l": [
   "1",
   "0"
  ],
  "m3": [
   "1E+3",
   "0E+3"
  ]
 },
 "temperature": {
  "°c": [
   "1.00",
   "273.15"
  ],
  "c": [
   "1.00",
   "273.15"
  ],
  "degc": [
   "1.00",
   "273.15"
  ],
  "°f": [
   "0.5555555555555555555555556",
   "255.3722222222222222222222222"
  ],
  "f": [
   "0.5555555555555555555555556",
   "255.3722222222222222222222222"
  ],
  "degf": [
   "0.5555555555555555555555556",
   "255.3722222222222222222222222"
  ],
  "k": [
   "1",
   "0"
  ]
 },
 "pressure": {
  "kpa": [
   "1",
   "0"
  ],
  "hpa": [
   "0.1",
   "0.0"
  ],
  "mbar": [
   "0.1",
   "0.0"
  ],
  "pa": [
   "0.001",
   "0.000"
  ],
  "mmhg": [
   "0.133322387415",
   "0E-12"
  ],
  "inhg": [
   "3.386388640341000000000000000",
   "0E-27"
  ],
  "atm": [
   "101.325",
   "0.000"
  ]
 }
};
