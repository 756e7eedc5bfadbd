"""A net's weights in a file, as `src/hear/weights.rs` reads them, and back: learning can go on from what is shipped.

Which parts there are, and in which order, a net's module tells in its PARTS: pairs of a name and what kind it is.
"""
import numpy as np
import torch

# What a weight is at most, in steps: with 12 bits the same strokes are heard as with floats.
MOST = 2047

# Kinds of parts. Floats as they stand; rows as they stand; a layer's weights, from out x in; the weights of a layer over
# time, from out x in x tap to the rows of each tap. A layer is its weights, then what is added.
ONE, ROWS, LAYER, TIME = range(4)


def layer(name, kind=LAYER):
    return (f"{name}.weight", kind), (f"{name}.bias", ONE)


def rows_of(kind, part):
    """The tables of rows, inputs x outputs, that a part is written as."""
    if kind == TIME:
        return list(part.transpose(2, 1, 0))
    return [part.T if kind == LAYER else part]


def one(part):
    """What stands alone, and what is added: floats of 32 bits."""
    return np.ascontiguousarray(part, "<f4").tobytes()


def rows(part):
    """Inputs x outputs: for each output what a step means, then all in steps."""
    part = np.asarray(part, "f4")
    steps = np.abs(part).max(axis=0) / np.float32(MOST)
    told = np.rint(part / np.where(steps > 0, steps, 1)).astype("<i2")
    return one(steps) + np.ascontiguousarray(told).tobytes()


def pack(parts, state):
    """The bytes of a net's parts, from its state."""
    made = b""
    for name, kind in parts:
        part = state[name].numpy()
        made += one(part) if kind == ONE else b"".join(map(rows, rows_of(kind, part)))
    return made


def unpack(parts, file, shapes):
    """The state of a net whose parts have these shapes, from its bytes."""
    state = {}

    def taken(count, kind):
        nonlocal file
        size = np.dtype(kind).itemsize * count
        part, file = np.frombuffer(file[:size], kind), file[size:]
        return part

    for name, kind in parts:
        shape = shapes[name]
        if kind == ONE:
            part = taken(int(np.prod(shape)), "<f4").reshape(shape)
        else:
            tables = []
            for like in rows_of(kind, np.empty(shape)):
                steps = taken(like.shape[1], "<f4")
                tables.append(taken(like.size, "<i2").reshape(like.shape) * steps)
            part = np.stack(tables).transpose(2, 1, 0) if kind == TIME else tables[0].T if kind == LAYER else tables[0]
        state[name] = torch.from_numpy(np.array(part, "f4"))
    if file:
        raise SystemExit(f"{len(file)} bytes are left: the file is another net's")
    return state


def either_way(parts, net, source, target):
    """From WEIGHTS.pt to WEIGHTS.bin, or back, by how the first ends."""
    if source.endswith(".pt"):
        with open(target, "wb") as file:
            file.write(pack(parts, torch.load(source)))
        return
    with open(source, "rb") as file:
        shapes = {name: tuple(part.shape) for name, part in net.state_dict().items()}
        torch.save(unpack(parts, file.read(), shapes), target)
