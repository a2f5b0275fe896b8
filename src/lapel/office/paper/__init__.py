"""Paper for places where no device may go: field sheets to print, and the page they are typed into."""
