"""The design file: the strict reader, the writer that keeps what the file said, edits of the background's strips."""
