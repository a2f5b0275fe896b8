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
