"""From English spelling to speech sounds: our own few rules, and a table for the words they get wrong.

Sounds are written in the ARPAbet without stress; AX is the weak vowel of "about", taken for every
AH after the first vowel. The rules aim at telling words apart, not at speaking them.
"""
from __future__ import annotations

import re
from functools import lru_cache

VOWELS = frozenset("AA AE AH AX AO AW AY EH ER EY IH IY OW OY UH UW".split())

_WORDS = """
a AX|above AX B AH V|affirm AX F ER M|again AX G EH N|any EH N IY|are AA R|be B IY|been B IH N|begin B IH G IH N
black B L AE K|blood B L AH D|bolt B OW L T|bonnet B AA N AH T|book B UH K|both B OW TH|brake B R EY K|break B R EY K
broken B R OW K AH N|brown B R AW N|bulb B AH L B|centre S EH N T ER|charlie CH AA R L IY|clear K L IH R
close K L OW Z|closed K L OW Z D|cold K OW L D|come K AH M|confirm K AX N F ER M|correct K AX R EH K T
corrosion K AX R OW ZH AX N|cough K AO F|cover K AH V ER|current K AH R AH N T|cylinder S IH L AH N D ER
delta D EH L T AH|do D UW|does D AH Z|done D AH N|door D AO R|dry D R AY|earth ER TH|echo EH K OW|eight EY T
emergency IH M ER JH AH N S IY|engine EH N JH AH N|enough IH N AH F|every EH V R IY|everything EH V R IY TH IH NG
false F AO L S|fife F AY F|five F AY V|flood F L AH D|fluid F L UW AH D|foot F UH T|four F AO R|fuel F Y UW AH L
full F UH L|fuse F Y UW Z|gauge G EY JH|gear G IH R|get G EH T|give G IH V|gloves G L AH V Z|gone G AO N|good G UH D
grey G R EY|ground G R AW N D|half HH AE F|have HH AE V|heard HH ER D|height HH AY T|high HH AY|hood HH UH D
hook HH UH K|hose HH OW Z|hotel HH OW T EH L|india IH N D IY AH|injector IH N JH EH K T ER|inlet IH N L EH T
iron AY ER N|juliet JH UW L IY EH T|juliett JH UW L IY EH T|key K IY|keys K IY Z|kilo K IY L OW|lima L IY M AH
litre L IY T ER|litres L IY T ER Z|live L AY V|look L UH K|loose L UW S|lose L UW Z|love L AH V|lower L OW ER
main M EY N|maker M EY K ER|many M EH N IY|metre M IY T ER|metres M IY T ER Z|mike M AY K|minute M IH N AH T
motor M OW T ER|move M UW V|moving M UW V IH NG|negative N EH G AH T IH V|nine N AY N|niner N AY N ER|no N OW
noise N OY Z|none N AH N|november N OW V EH M B ER|of AH V|oh OW|oil OY L|once W AH N S|one W AH N|only OW N L IY
open OW P AH N|options AA P SH AH N Z|oscar AO S K ER|outlet AW T L EH T|over OW V ER|papa P AA P AH|pear P EH R
people P IY P AH L|petrol P EH T R AX L|pressure P R EH SH ER|previous P R IY V IY AH S|pull P UH L|push P UH SH
put P UH T|quebec K EH B EH K|read R IY D|ready R EH D IY|refuse R IH F Y UW Z|relay R IY L EY|remove R IH M UW V
removed R IH M UW V D|repeat R IH P IY T|return R IH T ER N|romeo R OW M IY OW|rotor R OW T ER|rough R AH F
said S EH D|say S EY|says S EH Z|seal S IY L|seized S IY Z D|sierra S IY EH R AH|some S AH M|steady S T EH D IY
steel S T IY L|sure SH UH R|tango T AE NG G OW|the DH AX|their DH EH R|there DH EH R|they DH EY|through TH R UW
tight T AY T|to T UW|too T UW|took T UH K|torque T AO R K|tough T AH F|two T UW|tyre T AY R|tyres T AY R Z
uniform Y UW N AH F AO R M|union Y UW N Y AH N|used Y UW Z D|value V AE L Y UW|valve V AE L V|vehicle V IY AH K AH L
vibration V AY B R EY SH AX N|victor V IH K T ER|voltage V OW L T IH JH|was W AA Z|wash W AA SH|washer W AA SH ER
washers W AA SH ER Z|water W AO T ER|wear W EH R|weight W EY T|were W ER|what W AH T|whiskey W IH S K IY|who HH UW
window W IH N D OW|wire W AY R|wood W UH D|work W ER K|wrong R AO NG|xray EH K S R EY|yankee Y AE NG K IY|you Y UW
your Y AO R|zero Z IY R OW|zulu Z UW L UW
"""
_LETTERS = """
b B IY|c S IY|d D IY|e IY|f EH F|g JH IY|h EY CH|i AY|j JH EY|k K EY|l EH L|m EH M|n EH N|o OW|p P IY|q K Y UW|r AA R
s EH S|t T IY|u Y UW|v V IY|w D AH B AH L Y UW|x EH K S|y W AY|z Z IY
"""
_ENTRIES = [entry.split() for entry in (_WORDS + _LETTERS).replace("\n", "|").split("|") if entry]
_TABLE = {word: tuple(sounds) for word, *sounds in _ENTRIES}

_LONG = r"(?=[bcdfgklmnprstvz](?:e|es|ed|er|ers|ing)$)"
# Spelling (at this place in the word) to sounds; the first that fits is taken.
_RULES = [(re.compile(spelling), tuple(sounds.split())) for spelling, sounds in (
    (r"a(?=tion)", "EY"), (r"tion", "SH AH N"), (r"ssion", "SH AH N"), (r"sion", "ZH AH N"), (r"ture\b", "CH ER"),
    (r"tious|cious", "SH AH S"), (r"cial|tial", "SH AH L"), (r"ough", "AO"), (r"augh", "AO"), (r"eigh", "EY"),
    (r"igh", "AY"), (r"tch", "CH"), (r"dge?(?=e|$)", "JH"), (r"ck", "K"), (r"sch", "S K"), (r"ch(?=r|l)", "K"),
    (r"ch", "CH"), (r"sh", "SH"), (r"th", "TH"), (r"ph", "F"), (r"wh", "W"), (r"\bgh", "G"), (r"gh", ""),
    (r"\bkn", "N"), (r"\bgn", "N"), (r"\bwr", "R"), (r"\bps", "S"), (r"mb\b", "M"), (r"mn\b", "M"),
    (r"ng(?=[aou]|er|le)", "NG G"), (r"nge", "N JH"), (r"ng", "NG"), (r"n(?=k|x)", "NG"), (r"qu", "K W"), (r"q", "K"),
    (r"\bx", "Z"), (r"x", "K S"), (r"cc(?=[eiy])", "K S"), (r"sc(?=[eiy])", "S"), (r"c(?=[eiy])", "S"), (r"gg", "G"),
    (r"gu(?=[ei])", "G"), (r"g(?=e|i[^v]|y)", "JH"), (r"(?<=..[td])ed\b", "IH D"), (r"(?<=..[pkfsxh])ed\b", "T"),
    (r"(?<=..[bglmnrvwyz])ed\b", "D"), (r"(?<=[sxzh])es\b|(?<=c)es\b|(?<=g)es\b", "IH Z"), (r"(?<=[^aeiou])es\b", "Z"),
    (r"ss", "S"), (r"(?<=[aeiou])s(?=[eiou])", "Z"), (r"(?<=[iu])s\b", "S"), (r"(?<=[aeioubdgjlmnrvwyz])s\b", "Z"),
    (r"([bdfklmnprtvz])\1", "@"), (r"eer|ear|ere\b|ier", "IH R"), (r"air|are\b", "EH R"),
    (r"oar|oor|our|ore\b", "AO R"), (r"ire|yre", "AY R"), (r"ure\b", "Y UH R"), (r"war", "W AO R"),
    (r"worn", "W AO R N"), (r"wor", "W ER"), (r"orr", "AO R"), (r"arr|irr", "EH R"), (r"ar(?=[aeiou])", "EH R"),
    (r"ar", "AA R"), (r"err", "EH R"), (r"er|ir|ur", "ER"), (r"or\b(?<=..or)", "ER"), (r"or", "AO R"), (r"eau", "OW"),
    (r"ee", "IY"), (r"ead\b", "EH D"), (r"ea", "IY"), (r"oo", "UW"), (r"ow(?=n?\b)(?<=[lnr]ow)", "OW"),
    (r"ow|ou", "AW"), (r"oi|oy", "OY"), (r"ai|ay", "EY"), (r"au|aw", "AO"), (r"ew|eu|ue\b|ui", "UW"), (r"ie\b", "AY"),
    (r"ie|ei|ey", "IY"), (r"oa|oe", "OW"), (r"al(?=[kd]|l\b)", "AO L"),
    (r"olt", "OW L T"), (r"old", "OW L D"), (r"oll\b", "OW L"),
    (r"ind\b", "AY N D"), (r"ild\b", "AY L D"), (r"a(?=[bcdfgpt]le)", "EY"), (r"i(?=[bcdfgpt]le|al)", "AY"),
    (r"u(?=[bcdfgpt]le)", "UW"), (r"(?<=..[^aeiou])en(?=\b|ed\b)", "AH N"),
    (r"a" + _LONG, "EY"), (r"e" + _LONG.replace("|er|ers", ""), "IY"),
    (r"i" + _LONG, "AY"), (r"o" + _LONG, "OW"), (r"u" + _LONG, "UW"), (r"y" + _LONG, "AY"),
    (r"\bcon(?=[dft])|\bcom(?=[mp])", "K AX N"), (r"some", "S AH M"), (r"(?<=[^aeiou])le\b", "AH L"),
    (r"(?<=[^aeiou])re\b", "ER"), (r"(?<=.)age\b", "IH JH"), (r"(?<=..)ate\b", "EY T"), (r"\b(?<!.)y", "Y"),
    (r"(?<=\b[^aeiou])y\b|(?<=\b[^aeiou]{2})y\b", "AY"), (r"y\b", "IY"), (r"y", "IH"),
    (r"(?<=\b[^aeiou])e\b|(?<=\b[^aeiou]{2})e\b", "IY"), (r"e\b", ""), (r"o\b", "OW"), (r"i\b", "IY"), (r"a\b", "AH"),
    (r"u\b", "UW"), (r"io|ia", "IY AH"), (r"a", "AE"), (r"e", "EH"), (r"i", "IH"), (r"o", "AA"), (r"u", "AH"),
    (r"b", "B"), (r"c", "K"), (r"d", "D"), (r"f", "F"), (r"g", "G"), (r"h", "HH"), (r"j", "JH"), (r"k", "K"),
    (r"l", "L"), (r"m", "M"), (r"n", "N"), (r"p", "P"), (r"r", "R"), (r"s", "S"), (r"t", "T"), (r"v", "V"),
    (r"w", "W"), (r"z", "Z"),
)]


@lru_cache(maxsize=8192)
def phonemes(word: str) -> tuple[str, ...]:
    """The sounds of one lower-case word. A character that is no letter stands for itself."""
    sounds = _TABLE.get(word) or _by_rule(word)
    first = next((place for place, sound in enumerate(sounds) if sound in VOWELS), 0)
    return tuple("AX" if sound == "AH" and place > first else sound for place, sound in enumerate(sounds))


def _by_rule(word: str) -> tuple[str, ...]:
    sounds: list[str] = []
    place = 0
    while place < len(word):
        length, more = _next(word, place)
        sounds += more
        place += length
    return tuple(sounds)


def _next(word: str, place: int) -> tuple[int, tuple[str, ...]]:
    for spelling, sounds in _RULES:
        match = spelling.match(word, place)
        if match:
            return len(match[0]), (match[1].upper(),) if sounds == ("@",) else sounds
    return 1, (word[place],)
