/**
 * Who wants to know that something changed, and how often they are told.
 *
 * A hundred entries redraw the page a few times only, and drawing never holds up what is being recorded.
 */

/** Milliseconds between two tellings, and how many times longer the listeners are left alone than they took. */
const TELL_EVERY = 60;
const REST = 9;

/** Milliseconds a telling counts for at most: a device that fell asleep in the midst of one did not work all night. */
const LONGEST = 250;

/** @template T What they are told. */
export class Listeners {
  /** @param {() => T} newest */
  constructor(newest) {
    this.newest = newest;
    /** @type {Set<(told: T) => void>} */
    this.all = new Set();
    this.soon = false;
    this.toldAt = -Infinity;
    /** Milliseconds they worked the last time. */
    this.took = 0;
  }

  /** @param {(told: T) => void} listener @returns {() => void} */
  add(listener) {
    this.all.add(listener);
    return () => this.all.delete(listener);
  }

  /** Tell them soon, but not too often. */
  tellSoon() {
    if (this.soon) return;
    this.soon = true;
    const rest = Math.max(TELL_EVERY, REST * Math.min(LONGEST, this.took));
    const wait = this.toldAt + rest - performance.now();
    if (wait <= 0) queueMicrotask(() => this.tell());
    else setTimeout(() => this.tell(), wait);
  }

  tell() {
    const from = performance.now();
    this.soon = false;
    this.toldAt = from;
    this.took = 0;
    if (this.all.size) {
      const newest = this.newest();
      for (const listener of this.all) listener(newest);
    }
    queueMicrotask(() => this.worked(from)); // with what they put off to the end of this task
    requestAnimationFrame(() => {
      const frame = performance.now(); // what is drawn in the next frame counts too, the wait for it does not
      setTimeout(() => this.worked(frame));
    });
  }

  /** @param {number} from */
  worked(from) {
    this.toldAt = performance.now();
    this.took += this.toldAt - from;
  }
}
