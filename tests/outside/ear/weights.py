"""Writes a net's weights as the program reads them, in the order of src/hear/net.rs.

    weights.py WEIGHTS.pt WEIGHTS.bin
"""
import sys

import torch

import packed


def main():
    state = {name: tensor.numpy() for name, tensor in torch.load(sys.argv[1]).items()}

    def over_time(name):
        # From out x in x tap to tap x in x out.
        taps = state[f"{name}.weight"].transpose(2, 1, 0)
        return [*map(packed.rows, taps), packed.one(state[f"{name}.bias"])]
    layers = sorted({int(name.split(".")[1]) for name in state if name.startswith("layers.")})
    beside = ("first.weight", "first.bias", "second.weight", "second.bias")
    parts = [*(packed.one(state[name]) for name in beside), *over_time("gather")]
    for n in layers:
        parts += over_time(f"layers.{n}")
    parts += [packed.rows(state["told.weight"][:, :, 0].T), packed.one(state["told.bias"])]
    with open(sys.argv[2], "wb") as file:
        for part in parts:
            file.write(part)


if __name__ == "__main__":
    main()
