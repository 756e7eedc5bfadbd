"""Scores what is heard on voices and conditions that nothing was tuned on, beside others' detectors.

    score.py make VOICES FOLDER [SEED]    writes the takes and their truth
    score.py learnt VOICES FOLDER [SEED]  the same of voices that are learnt from, at the rate that is learnt at: where
                                          the ear stands apart from what it never heard. By these constants may be set
    score.py ours FOLDER OPENCHAIR        what `openchair hear` finds in them (FOLDER/ours.json)
    score.py net FOLDER WEIGHTS.pt        what the first net alone finds in them
    score.py librosa FOLDER               what librosa's detector finds, at three hops
    score.py madmom FOLDER                what madmom's recurrent detector finds (its own, learnt, weights)
    score.py tell FOLDER                  the table

F-measures are mir_eval's onset F-measure with windows of 50 and 25 ms. The others do not tell slurs from strokes: on
parts with slurs they are scored against strokes alone and against both, and the better counts.
"""
import json
import pathlib
import subprocess
import sys

import numpy as np
import soundfile

RATE = 44_100
SECONDS = 14.0
# Part, strokes a second.
PARTS = [("roll", 4), ("roll", 8), ("roll", 12), ("vamp", 3), ("fill", 4), ("fill", 8), ("line", 8), ("strum", 4), ("sparse", 2)]


def make(voices, folder, seed=0):
    from voices import BAND_HELD_OUT, HELD_OUT
    takes_of(voices, folder, seed, RATE, HELD_OUT, BAND_HELD_OUT, ("tim-steel", "tim-nylon"))


def learnt(voices, folder, seed=0):
    from voices import BAND_TRAIN
    names = ("fluid-banjo", "fluid-steel", "fluid-nylon", "fluid-mandolin", "fluid-ukulele", "made-03")
    takes_of(voices, folder, seed, 16_000, names, BAND_TRAIN, ("fluid-steel", "fluid-nylon"))


def takes_of(voices, folder, seed, rate_of_sound, names, in_band, also):
    """Takes on the voices of these names, with those of the band and of `also` in the background."""
    from parts import Player
    from rooms import CONDITIONS, Band, under
    from voices import Voice
    band = {name: Voice(voices, name, rate_of_sound) for name in in_band}
    stage = {name: Voice(voices, name, rate_of_sound) for name in names}
    folder.mkdir(parents=True, exist_ok=True)
    truths = {}
    for place, (name, voice) in enumerate(stage.items()):
        others = band | {other: stage[other] for other in also if other != name}
        for number, (part, rate) in enumerate(PARTS):
            chance = np.random.default_rng([int(seed), place, number, 77])
            player = Player(voice, chance, SECONDS)
            sound, truth = player.play(part, rate)
            for condition in CONDITIONS:
                take = f"{name}_{part}_{rate}_{condition}"
                changed = under(condition, sound, rate_of_sound, chance, Band(others, chance), 2 / rate if rate < 6 else 4 / rate)
                soundfile.write(folder / f"{take}.wav", changed / np.abs(changed).max() * 0.7, rate_of_sound, subtype="PCM_16")
                truths[take] = {"strokes": [[at, sorted(pitches)] for at, pitches in truth.strokes],
                                "slurs": [list(slur) for slur in truth.slurs]}
    (folder / "truth.json").write_text(json.dumps(truths))


def takes(folder):
    return json.loads((folder / "truth.json").read_text())


def ours(folder, program):
    found = {}
    for take in takes(folder):
        heard = subprocess.run([program, "hear", folder / f"{take}.wav", "--json"], capture_output=True)
        told = json.loads(heard.stdout) if heard.returncode == 0 else {"strokes": [], "slurs": []}
        found[take] = {kind: [[stroke["at"], stroke["pitches"], stroke["loud"]] for stroke in told.get(kind, [])]
                       for kind in ("strokes", "slurs")}
    (folder / "ours.json").write_text(json.dumps(found))


def net(folder, weights, name="ours"):
    import scipy.signal
    import torch
    from features import features
    from net import Net, begun, likely
    torch.set_num_threads(1)
    model = Net()
    model.load_state_dict(torch.load(weights))
    model.eval()
    found = {}
    for take in takes(folder):
        sound, rate = soundfile.read(folder / f"{take}.wav", dtype="float32")
        sound = scipy.signal.resample_poly(sound, 160, 441).astype("float32")
        with torch.no_grad():
            told = likely(model(torch.from_numpy(features(sound))[None]))[0].numpy()
        strokes, slurs = begun(told)
        found[take] = {"strokes": [[at, [], 0] for at in strokes], "slurs": [[at, [], 0] for at in slurs]}
    (folder / f"{name}.json").write_text(json.dumps(found))


def librosas(folder):
    import librosa
    found = {}
    for take in takes(folder):
        sound, rate = soundfile.read(folder / f"{take}.wav", dtype="float32")
        found[take] = [list(librosa.onset.onset_detect(y=sound, sr=rate, hop_length=hop, units="time"))
                       for hop in (512, 256, 128)]
    (folder / "librosa.json").write_text(json.dumps(found))


def madmoms(folder):
    import collections
    import collections.abc
    # Names that newer Pythons and numpys no longer have.
    for name in ("MutableSequence", "Iterable", "Mapping", "Sequence"):
        setattr(collections, name, getattr(collections.abc, name))
    np.float, np.int, np.bool = float, int, bool
    from madmom.features.onsets import OnsetPeakPickingProcessor, RNNOnsetProcessor
    likely = RNNOnsetProcessor()
    # As its own program OnsetDetector has them.
    pick = OnsetPeakPickingProcessor(threshold=0.35, smooth=0.07, fps=100, pre_max=0.01, post_max=0.01)
    found = {take: [list(map(float, pick(likely(str(folder / f"{take}.wav")))))] for take in takes(folder)}
    (folder / "madmom.json").write_text(json.dumps(found))


def counts(truth, found, window):
    import mir_eval
    pairs = mir_eval.util.match_events(np.array(truth), np.array(found), window) if truth and found else []
    return np.array([len(pairs), len(found), len(truth)], float), pairs


def f_measure(sums):
    return 2 * sums[0] / max(sums[1] + sums[2], 1)


def best(folder, name, take, strokes, both, window):
    """The counts of another's best way on this take."""
    ways = STORE.setdefault(name, json.loads((folder / f"{name}.json").read_text()) if (folder / f"{name}.json").exists() else None)
    if ways is None:
        return np.zeros(3)
    all_ = [counts(truth, found, window)[0] for found in ways[take] for truth in (strokes, both)]
    return max(all_, key=f_measure)


STORE = {}


def tell(folder):
    truths, own = takes(folder), json.loads((folder / "ours.json").read_text())
    rows = {}

    def row(key):
        return rows.setdefault(key, {"ours": np.zeros(3), "ours25": np.zeros(3), "librosa": np.zeros(3), "madmom": np.zeros(3),
                                     "madmom25": np.zeros(3), "late": [], "slur": np.zeros(3), "as stroke": 0, "slurs": 0,
                                     "notes": np.zeros(4)})
    for take, truth in truths.items():
        voice, part, rate, condition = take.split("_")
        strokes, slurs = [at for at, _ in truth["strokes"]], [at for at, *_ in truth["slurs"]]
        found = [at for at, *_ in own[take]["strokes"]]
        fifty, pairs = counts(strokes, found, 0.05)
        found_slurs = [at for at, *_ in own[take]["slurs"]]
        slurred, slur_pairs = counts(slurs, found_slurs, 0.05)
        # Slurs that were heard at all, and those of them that were told as strokes.
        taken = {b for _, b in pairs}
        spare = [at for n, at in enumerate(found) if n not in taken]
        wrong, wrong_pairs = counts(slurs, spare, 0.05)
        told = sum(bool(own[take]["strokes"][b][1]) for _, b in pairs)
        right = full = 0
        for a, b in pairs:
            there, heard = set(truth["strokes"][a][1]), own[take]["strokes"][b][1]
            right += bool(heard) and set(heard) <= there
            full += bool(heard) and {pitch % 12 for pitch in heard} <= {pitch % 12 for pitch in there}
        for key in ((part, rate, condition), ("=" + part, "", condition), ("=all", "", condition), ("=" + voice, "", condition)):
            sums = row(key)
            sums["ours"] += fifty
            sums["ours25"] += counts(strokes, found, 0.025)[0]
            for name in ("librosa", "madmom"):
                sums[name] += best(folder, name, take, strokes, sorted(strokes + slurs), 0.05)
            sums["madmom25"] += best(folder, "madmom", take, strokes, sorted(strokes + slurs), 0.025)
            sums["late"] += [1000 * (found[b] - strokes[a]) for a, b in pairs]
            sums["slur"] += slurred
            sums["slurs"] += len({a for a, _ in slur_pairs} | {a for a, _ in wrong_pairs})
            sums["as stroke"] += len(wrong_pairs)
            sums["notes"] += (len(pairs), told, right, full)
    print("part           with   | F50   prec  rec   F25   | librosa madmom mm25  | bias  |err|  p95  | slur F told apart | notes told right class")
    for key in sorted(rows):
        sums = rows[key]
        late = np.array(sums["late"]) if sums["late"] else np.zeros(1)
        apart = 1 - sums["as stroke"] / max(sums["slurs"], 1)
        pairs, told, right, full = sums["notes"]
        print(f"{key[0]:11} {key[1]:>2} {key[2]:6} | {f_measure(sums['ours']):.3f} {sums['ours'][0] / max(sums['ours'][1], 1):.3f} "
              f"{sums['ours'][0] / max(sums['ours'][2], 1):.3f} {f_measure(sums['ours25']):.3f} | {f_measure(sums['librosa']):.3f}   "
              f"{f_measure(sums['madmom']):.3f}  {f_measure(sums['madmom25']):.3f} | {np.median(late):+5.2f} {np.median(np.abs(late)):5.2f} "
              f"{np.percentile(np.abs(late), 95):5.2f} | {f_measure(sums['slur']):.3f} {apart:5.0%} ({sums['slurs']}) | "
              f"{told / max(pairs, 1):4.0%} {right / max(told, 1):4.0%} {full / max(told, 1):4.0%}")


def main():
    what, folder = sys.argv[1], pathlib.Path(sys.argv[3] if sys.argv[1] in ("make", "learnt") else sys.argv[2])
    if what in ("make", "learnt"):
        {"make": make, "learnt": learnt}[what](sys.argv[2], folder, *sys.argv[4:])
    else:
        {"ours": ours, "net": net, "librosa": librosas, "madmom": madmoms, "tell": tell}[what](folder, *sys.argv[3:])


if __name__ == "__main__":
    main()
