"""The command line: results to stdout, words for people to stderr; nothing heavy is imported before it is needed."""
