/** On which ports a pump draws, where “all” may include ports nobody has named yet. */

export class Drawing {
  /** @param {boolean} everywhere What was last said of all ports. @param {Iterable<string>} exceptions The opposite. */
  constructor(everywhere = false, exceptions = []) {
    this.everywhere = everywhere;
    this.exceptions = new Set(exceptions);
  }

  /** @param {string} port @returns {boolean} */
  on(port) {
    return this.everywhere !== this.exceptions.has(port);
  }

  /** Whether the pump draws on any port known so far. @param {Map<string, unknown>} known @returns {boolean} */
  anywhere(known) {
    if (!this.everywhere) return this.exceptions.size > 0;
    return known.size === 0 || [...known.keys()].some((port) => !this.exceptions.has(port));
  }

  /** @param {string[]} ports None: all. */
  start(ports) {
    this.set(ports, true);
  }

  /** @param {string[]} ports None: all. */
  stop(ports) {
    this.set(ports, false);
  }

  copy() {
    return new Drawing(this.everywhere, this.exceptions);
  }

  /** @param {string[]} ports @param {boolean} draws */
  set(ports, draws) {
    if (!ports.length) {
      this.everywhere = draws;
      this.exceptions = new Set();
    }
    for (const port of ports) {
      if (draws === this.everywhere) this.exceptions.delete(port);
      else this.exceptions.add(port);
    }
  }
}
