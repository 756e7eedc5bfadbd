"""Writes a net's weights as the program reads them: little-endian floats of 32 bits, in the order of src/hear/net.rs.

    weights.py WEIGHTS.pt WEIGHTS.bin
"""
import sys

import numpy as np
import torch


def main():
    state = {name: tensor.numpy() for name, tensor in torch.load(sys.argv[1]).items()}

    def over_time(name):
        # From out x in x tap to tap x in x out.
        return [state[f"{name}.weight"].transpose(2, 1, 0), state[f"{name}.bias"]]
    layers = sorted({int(name.split(".")[1]) for name in state if name.startswith("layers.")})
    parts = [state["first.weight"], state["first.bias"], state["second.weight"], state["second.bias"], *over_time("gather")]
    for n in layers:
        parts += over_time(f"layers.{n}")
    parts += [state["told.weight"][:, :, 0].T, state["told.bias"]]
    with open(sys.argv[2], "wb") as file:
        for part in parts:
            file.write(np.ascontiguousarray(part, "<f4").tobytes())


if __name__ == "__main__":
    main()
