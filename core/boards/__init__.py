"""From which board, and where in it, the wood of each solid comes: logs, photos, grey cards, glued joints."""
