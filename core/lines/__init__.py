"""The lines that are cut: what the cutter's tip runs along, fitted with curves, written as files and checked."""
