"""Report: the author's own words, what is to be done, who must be told, documents, review, signatures, the dossier."""
