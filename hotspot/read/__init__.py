"""Files -> a stream of Frames in time order, one in memory at a time. Only this room opens frames."""
