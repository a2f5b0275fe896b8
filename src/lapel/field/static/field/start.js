/** Starts the page: its worker, its disk, its screens. */

import { openField } from './field.js';
import { mount } from './screens/main.js';
import { cannotKeep } from './screens/pairing.js';

/** Milliseconds between two looks for a new version of the page. */
const LOOK_EVERY = 3600_000;

const root = /** @type {HTMLElement} */ (document.getElementById('field'));

if ('serviceWorker' in navigator) changeWithTheWorker(navigator.serviceWorker);

try {
  const field = await openField({ pairingCode: codeOfTheLink() });
  Object.assign(root, { field }); // at hand for whoever looks into the page
  mount(root, field);
  void register(field);
  if (await navigator.storage?.persisted?.()) void field.askPersist();
} catch (why) {
  root.textContent = cannotKeep(why);
  root.setAttribute('role', 'alert');
}

/** The code in a pairing link stays in the part of the address that no server sees, and is taken out of it at once. */
function codeOfTheLink() {
  const code = location.pathname.endsWith('/pair') ? location.hash.slice(1) : '';
  if (code) history.replaceState(null, '', location.pathname);
  return code;
}

/**
 * Loads the page anew when another version's worker takes over. Heard from the first moment on: a tab that is still
 * starting when somebody asks for the change in another one would else go on with the version that is gone.
 *
 * @param {ServiceWorkerContainer} container
 */
function changeWithTheWorker(container) {
  let hadWorker = container.controller !== null;
  let reloading = false;
  container.addEventListener('controllerchange', () => {
    if (hadWorker && !reloading) {
      reloading = true;
      location.reload();
    }
    hadWorker = true; // the first one takes over what it was made for; the next is another version
  });
}

/** @param {import('./field.js').Field} field @returns {Promise<void>} */
async function register(field) {
  if (!('serviceWorker' in navigator)) return;
  const { serviceWorker } = navigator;
  const registration = await serviceWorker.register('/field/sw.js', { scope: '/field/', updateViaCache: 'none' });
  const offer = () => {
    const { waiting } = registration;
    if (waiting && serviceWorker.controller) field.offerUpdate(() => waiting.postMessage('take over'));
  };
  registration.addEventListener('updatefound', () => registration.installing?.addEventListener('statechange', offer));
  offer();
  const look = () => void registration.update().catch(() => {});
  setInterval(look, LOOK_EVERY);
  document.addEventListener('visibilitychange', () => document.visibilityState === 'visible' && look());
}
