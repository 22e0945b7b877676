"""Pictures, films and pages: how they are rendered and finished; their operators and panels."""
