"""An unsorted heap of scans becomes a plan: document, kind, turn and order of every item."""
