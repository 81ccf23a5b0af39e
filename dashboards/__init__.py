"""Pages and charts; reads a snapshot, recomputes nothing."""
