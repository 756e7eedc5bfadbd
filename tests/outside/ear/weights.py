"""Writes the first net's weights as the program reads them, in the order of src/hear/net.rs, or reads them back.

    weights.py WEIGHTS.pt WEIGHTS.bin
    weights.py WEIGHTS.bin WEIGHTS.pt
"""
import sys

import packed
from net import GAPS, Net
from packed import ONE, TIME, layer

PARTS = [*((f"{name}.{part}", ONE) for name in ("first", "second") for part in ("weight", "bias")), *layer("gather", TIME),
         *(part for n in range(len(GAPS)) for part in layer(f"layers.{n}", TIME)), *layer("told", TIME)]


if __name__ == "__main__":
    packed.either_way(PARTS, Net(), *sys.argv[1:])
