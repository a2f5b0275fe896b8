/* What script adds; every page works without it. */

/* A table drawn as cards stays a table for screen readers. */
const roles = { TABLE: 'table', THEAD: 'rowgroup', TBODY: 'rowgroup', TR: 'row', TD: 'cell' };
function keepTables(root) {
  for (const part of root.querySelectorAll('table.cards, table.cards :is(thead, tbody, tr, td, th)')) {
    const heading = part.closest('thead') ? 'columnheader' : 'rowheader';
    part.setAttribute('role', part.tagName === 'TH' ? heading : roles[part.tagName]);
  }
}

keepTables(document);
document.addEventListener('htmx:afterSwap', (event) => keepTables(event.target.parentElement ?? document));

/* A link to something folded away unfolds it; browsers that do so by themselves lose nothing. */
function unfold() {
  const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const folded = target?.closest('details:not([open])');
  if (folded) {
    folded.open = true;
    target.scrollIntoView();
  }
}
addEventListener('hashchange', unfold);
unfold();

/* On a narrow page the row of a survey's pages begins where one is. */
document.querySelector('.beside a[aria-current]')?.scrollIntoView({ block: 'nearest', inline: 'center' });

/* A password can be looked at while it is typed; it is sent as a password. */
for (const field of document.querySelectorAll('input[type=password]')) {
  const button = document.createElement('button');
  button.type = 'button';
  button.className = 'button quiet shows-typed';
  const show = (shown) => {
    field.type = shown ? 'text' : 'password';
    button.textContent = shown ? 'Hide what is typed' : 'Show what is typed';
  };
  show(false);
  button.addEventListener('click', () => show(field.type === 'password'));
  field.form?.addEventListener('submit', () => show(false));
  field.after(button);
}
