"""Learns to hear strokes and slurs from the takes in a folder, as they come; the first of them are kept to judge by.

    train.py TAKES WEIGHTS.pt MINUTES [FROM.pt]
"""
import pathlib
import sys
import time

import mir_eval
import numpy as np
import torch

from features import features
from net import Net, begun, likely, peaks
from takes import saved

# Takes at once, and frames of each: a place in it by chance.
BATCH, FRAMES = 8, 400
RATE = 1.5e-3
# Files that are judged by: the first.
JUDGED = 3


def targets(times, frames, reach):
    """1 at each time, falling to 0 at `reach` frames from it."""
    target = np.zeros(frames, "float32")
    for at in times:
        near = np.arange(max(0, int(at * 100 - reach)), min(frames, int(at * 100 + reach) + 2))
        target[near] = np.maximum(target[near], 1 - np.abs(near - at * 100) / reach)
    return np.clip(target, 0, 1)


def load(path, chance):
    """What is heard of a file's takes, and where strokes and slurs are in them."""
    rows = []
    for sound, strokes, slurs in saved(path):
        heard = features(sound, gain=2.0 ** chance.normal(0, 0.6))
        both = (targets([at for at, _ in strokes], len(heard), 2.0), targets([at for at, _ in slurs], len(heard), 4.0))
        rows.append((heard, *(target.astype("float16") for target in both)))
    return tuple(torch.from_numpy(np.stack(kind)) for kind in zip(*rows))


def loss(told, strokes, slurs):
    """Cross-entropy of three: a stroke, a slur, neither."""
    slurs = torch.minimum(slurs, 1 - strokes)
    shares = torch.stack([strokes, slurs, 1 - strokes - slurs], 1)
    logs = torch.log_softmax(torch.cat([told, torch.zeros_like(told[:, :1])], 1), 1)
    weights = torch.tensor([3.0, 3.0, 1.0])[None, :, None]
    return -(weights * shares * logs).sum(1).mean()


def times(target):
    """Back from targets to seconds."""
    return peaks(target, 0.49)


def judge(net, takes, least=0.5):
    net.eval()
    hit, found, struck = np.zeros(2), np.zeros(2), np.zeros(2)
    late = []
    with torch.no_grad():
        for heard, strokes, slurs in takes:
            told = likely(net(heard)).numpy()
            for n in range(len(heard)):
                both = begun(told[n], least)
                for which, target in enumerate((strokes, slurs)):
                    truth, ours = times(target[n].float().numpy()), both[which]
                    pairs = mir_eval.util.match_events(truth, ours, 0.05)
                    hit[which] += len(pairs)
                    found[which] += len(ours)
                    struck[which] += len(truth)
                    if which == 0:
                        late += [1000 * (ours[b] - truth[a]) for a, b in pairs]
    net.train()
    f = 2 * hit / (found + struck)
    return (f"stroke F {f[0]:.3f} (P {hit[0] / found[0]:.3f} R {hit[0] / struck[0]:.3f}) "
            f"slur F {f[1]:.3f} (P {hit[1] / max(found[1], 1):.3f} R {hit[1] / struck[1]:.3f}) "
            f"|late| {np.median(np.abs(late)):.2f} p95 {np.percentile(np.abs(late), 95):.2f} ms")


def main():
    takes, weights, minutes = pathlib.Path(sys.argv[1]), sys.argv[2], float(sys.argv[3])
    torch.set_num_threads(1)
    torch.manual_seed(1)
    chance = np.random.default_rng(1)
    net = Net()
    if len(sys.argv) > 4:
        net.load_state_dict(torch.load(sys.argv[4]))
    print(sum(weight.numel() for weight in net.parameters()), "weights", flush=True)
    optimizer = torch.optim.AdamW(net.parameters(), RATE, weight_decay=1e-4)
    loaded, order, step, total, begun, said = {}, [], 0, 0.0, time.time(), 0.0
    judged = None
    while True:
        gone = (time.time() - begun) / (60 * minutes)
        if gone >= 1:
            break
        if step % 20 == 0:
            # A few at a time, as they come.
            for path in [path for path in sorted(takes.glob("?????.npz")) if path not in loaded][:2 if loaded else 60]:
                loaded[path] = load(path, chance)
            paths = sorted(loaded)
            judged = [loaded[path] for path in paths[:JUDGED]]
            paths = paths[JUDGED:]
        if not order:
            order = [(path, n) for path in paths for n in range(len(loaded[path][0]))]
            chance.shuffle(order)
        batch, order = order[:BATCH], order[BATCH:]
        from_ = [int(chance.integers(0, loaded[path][0].shape[1] - FRAMES)) for path, _ in batch]
        heard, strokes, slurs = (torch.stack([loaded[path][kind][n, at:at + FRAMES] for (path, n), at in zip(batch, from_)])
                                 for kind in range(3))
        # The rate rises within the first 2 of a hundred of the time, and falls to nothing by half a cosine.
        for group in optimizer.param_groups:
            group["lr"] = RATE * min(1, gone / 0.02 + 0.02) * 0.5 * (1 + np.cos(np.pi * gone))
        error = loss(net(heard), strokes.float(), slurs.float())
        optimizer.zero_grad()
        error.backward()
        torch.nn.utils.clip_grad_norm_(net.parameters(), 1.0)
        optimizer.step()
        total += error.item()
        step += 1
        if time.time() - said > 180:
            print(f"{gone:4.0%} {step} steps, {len(paths)} files, loss {total / step:.4f} | {judge(net, judged)}", flush=True)
            torch.save(net.state_dict(), weights)
            said, step, total = time.time(), 0, 0.0
    torch.save(net.state_dict(), weights)
    print(f"{step} steps | {judge(net, judged)}")


if __name__ == "__main__":
    main()
