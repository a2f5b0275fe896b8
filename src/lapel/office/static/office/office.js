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
