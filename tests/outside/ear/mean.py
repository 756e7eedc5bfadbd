"""The mean of two nets of one shape, weight by weight: what is learnt on from weights stays close enough to them for it, and
keeps of both (Wortsman and others, "Robust fine-tuning of zero-shot models", CVPR 2022, arXiv 2109.01903).

    mean.py BEFORE.pt AFTER.pt MEAN.pt [SHARE]      SHARE of what is after, a half unless said
"""
import sys

import torch


def main():
    before, after = map(torch.load, sys.argv[1:3])
    share = float(sys.argv[4]) if len(sys.argv) > 4 else 0.5
    torch.save({name: (1 - share) * part + share * after[name] for name, part in before.items()}, sys.argv[3])


if __name__ == "__main__":
    main()
