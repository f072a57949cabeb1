"""What a run is asked: how often it gets through, from which start, how wide, why not."""
