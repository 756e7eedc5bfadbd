"""A net's weights in a file, as `src/hear/weights.rs` reads them."""
import numpy as np

# What a weight is at most, in steps: with 12 bits the same strokes are heard as with floats.
MOST = 2047


def one(part):
    """What stands alone, and what is added: floats of 32 bits."""
    return np.ascontiguousarray(part, "<f4").tobytes()


def rows(part):
    """Inputs x outputs: for each output what a step means, then all in steps."""
    part = np.asarray(part, "f4")
    steps = np.abs(part).max(axis=0) / np.float32(MOST)
    told = np.rint(part / np.where(steps > 0, steps, 1)).astype("<i2")
    return one(steps) + np.ascontiguousarray(told).tobytes()
