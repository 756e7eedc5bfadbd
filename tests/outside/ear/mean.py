"""The mean of two nets of one shape, weight by weight: what is learnt on from weights stays close enough to them for it, and
keeps of both (Wortsman and others, "Robust fine-tuning of zero-shot models", CVPR 2022, arXiv 2109.01903).

    mean.py BEFORE.pt AFTER.pt MEAN.pt
"""
import sys

import torch


def main():
    before, after = map(torch.load, sys.argv[1:3])
    torch.save({name: (part + after[name]) / 2 for name, part in before.items()}, sys.argv[3])


if __name__ == "__main__":
    main()
