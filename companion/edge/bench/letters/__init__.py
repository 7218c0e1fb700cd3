"""Trains the ear's second opinion (`edge.ear.letters`) on speech that is made for it, and on recordings where given.

    python -m companion.edge.bench.letters --words WORDS --out letters.npz [--manifest FILE --set an4]

`--words` is a list of ordinary English words, one a line, such as Linux systems keep; `--manifest` adds recordings of
whole sentences (tab-separated `file`, `set`, `said`), each heard in many noises. The recordings that the ear is measured
on are never trained on. Takes `espeak-ng`, `flite` (Linux packages) and `pip install torch scipy`; two hours and 16 GB on
two cores with the default count. Training is not bit for bit the same on another machine. The shipped file was trained in
two goes of half an hour, the second with edges cut; this does both at once.
"""
