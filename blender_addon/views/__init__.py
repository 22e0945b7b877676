"""What each view shows, and how the wood follows the maker's hand."""
