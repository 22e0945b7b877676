"""Finished files: pictures with their words, the reading sheet, the listing card and the views page."""
