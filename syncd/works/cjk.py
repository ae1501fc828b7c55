"""Japanese, Chinese and Korean titles put into the words that the grammar reads.

Work titles in these scripts are formulas (form, number, key, opus, movement), so each term is
replaced by its English one: ``交響曲第5番 ハ短調 作品67「運命」 第1楽章`` becomes
``Symphony No. 5 in C minor Op. 67 "運命": 1. mvt``. Proper titles stay as they are. Terms: any
bilingual dictionary of music; from memory.
"""

import re
from functools import lru_cache

from syncd.works.romaji import from_romaji

_ANY = re.compile(r"[\u3040-\u30ff\u3400-\u9fff\uac00-\ud7a3\uff00-\uffef]")

_DIGITS = {"一": 1, "二": 2, "三": 3, "四": 4, "五": 5, "六": 6, "七": 7, "八": 8, "九": 9}
_IROHA = {"ハ": "C", "ニ": "D", "ホ": "E", "ヘ": "F", "ト": "G", "イ": "A", "ロ": "B"}
_CHINESE_KEYS = re.compile(r"([降升♭♯#b]?)\s*([A-Ga-g])\s*([♭♯#b]?)\s*(大调|小调|大調|小調)")
_KOREAN_NOTES = {"다": "C", "라": "D", "마": "E", "바": "F", "사": "G", "가": "A", "나": "B"}
_KOREAN_KEYS = re.compile(r"(?:(내림|올림)\s*)?([가나다라마바사])\s*(장조|단조)")
_JAPANESE_KEYS = re.compile(r"(変|嬰)?([ハニホヘトイロ])\s*(長調|短調)")

_INSTRUMENTS = {
    "ヴァイオリン": "Violin", "バイオリン": "Violin", "ピアノ": "Piano", "チェロ": "Cello",
    "ヴィオラ": "Viola", "フルート": "Flute", "クラリネット": "Clarinet", "オーボエ": "Oboe",
    "ファゴット": "Bassoon", "ホルン": "Horn", "トランペット": "Trumpet", "ハープ": "Harp",
    "ギター": "Guitar", "オルガン": "Organ", "チェンバロ": "Harpsichord", "弦楽": "String",
    "小提琴": "Violin", "大提琴": "Cello", "中提琴": "Viola", "钢琴": "Piano", "鋼琴": "Piano",
    "长笛": "Flute", "長笛": "Flute", "单簧管": "Clarinet", "單簧管": "Clarinet", "双簧管": "Oboe",
    "圆号": "Horn", "法國號": "Horn", "小号": "Trumpet", "小號": "Trumpet", "竖琴": "Harp",
    "管风琴": "Organ", "管風琴": "Organ", "吉他": "Guitar", "弦乐": "String", "弦樂": "String",
    "바이올린": "Violin", "피아노": "Piano", "첼로": "Cello", "비올라": "Viola", "플루트": "Flute",
    "클라리넷": "Clarinet", "오보에": "Oboe", "호른": "Horn", "트럼펫": "Trumpet", "하프": "Harp",
    "기타": "Guitar", "오르간": "Organ", "현악": "String", "관현악": "Orchestral", "무반주": "",
    "無伴奏": "", "无伴奏": "", "管弦楽": "Orchestral", "管弦乐": "Orchestral",
}  # fmt: skip
_FORMS = {
    "교향곡": "Symphony", "협주곡": "Concerto", "소나타": "Sonata", "사중주": "Quartet",
    "오중주": "Quintet", "삼중주": "Trio", "모음곡": "Suite", "전주곡": "Prelude", "푸가": "Fugue",
    "연습곡": "Étude", "야상곡": "Nocturne", "녹턴": "Nocturne", "발라드": "Ballade",
    "즉흥곡": "Impromptu", "왈츠": "Waltz", "변주곡": "Variations", "서곡": "Overture",
    "레퀴엠": "Requiem", "미사": "Mass", "칸타타": "Cantata", "광시곡": "Rhapsody",
    "환상곡": "Fantasia", "세레나데": "Serenade", "교향시": "Symphonic Poem",
    "交響曲": "Symphony", "交响曲": "Symphony", "交响乐": "Symphony", "協奏曲": "Concerto",
    "协奏曲": "Concerto", "ソナタ": "Sonata", "奏鸣曲": "Sonata", "奏鳴曲": "Sonata",
    "四重奏曲": "Quartet", "四重奏": "Quartet", "五重奏曲": "Quintet", "五重奏": "Quintet",
    "三重奏曲": "Trio", "三重奏": "Trio", "六重奏曲": "Sextet", "八重奏曲": "Octet",
    "組曲": "Suite", "组曲": "Suite", "前奏曲": "Prelude", "フーガ": "Fugue", "赋格": "Fugue",
    "練習曲": "Étude", "练习曲": "Étude", "夜想曲": "Nocturne", "夜曲": "Nocturne",
    "バラード": "Ballade", "叙事曲": "Ballade", "スケルツォ": "Scherzo", "即興曲": "Impromptu",
    "即兴曲": "Impromptu", "マズルカ": "Mazurka", "ポロネーズ": "Polonaise", "ワルツ": "Waltz",
    "圆舞曲": "Waltz", "圓舞曲": "Waltz", "変奏曲": "Variations", "变奏曲": "Variations",
    "序曲": "Overture", "ミサ曲": "Mass", "弥撒": "Mass", "レクイエム": "Requiem",
    "安魂曲": "Requiem", "カンタータ": "Cantata", "狂詩曲": "Rhapsody", "狂想曲": "Rhapsody",
    "ラプソディ": "Rhapsody", "セレナード": "Serenade", "小夜曲": "Serenade",
    "ロマンス": "Romance", "幻想曲": "Fantasia", "パルティータ": "Partita", "トッカータ": "Toccata",
    "交響詩": "Symphonic Poem", "交响诗": "Symphonic Poem", "ディヴェルティメント": "Divertimento",
    "嬉遊曲": "Divertimento",
}  # fmt: skip
_TERMS = re.compile(
    "|".join(sorted(map(re.escape, {**_INSTRUMENTS, **_FORMS}), key=len, reverse=True))
)
_WORDS = {**_INSTRUMENTS, **_FORMS}
_NUMERAL = "[0-9０-９一二三四五六七八九十]+"
_MOVEMENT = re.compile(rf"(?:第\s*({_NUMERAL})\s*(?:楽章|乐章|樂章)|(?:제\s*)?(\d{{1,2}})\s*악장)")
_NUMBER = re.compile(rf"(?:第\s*({_NUMERAL})\s*(?:番|号|號)?|(?:제\s*)?(\d{{1,3}})\s*번)")
_OPUS = re.compile(
    rf"(?:작품\s*번호|작품|作品|op\.?)\s*第?\s*({_NUMERAL})\s*(?:号|號)?", re.IGNORECASE
)
_OPUS_PART = re.compile(rf"(?<=\d)\s*の\s*({_NUMERAL})")
_QUOTES = str.maketrans(
    {
        "「": "“",
        "」": "”",
        "『": "“",
        "』": "”",
        "《": "“",
        "》": "”",
        "〈": "“",
        "〉": "”",
        "（": "(",
        "）": ")",
        "：": ": ",
        "・": " ",
        "、": ", ",
        "／": " / ",
        "，": ", ",
        "　": " ",
        "【": "[",
        "】": "]",
        "～": " - ",
        "－": "-",
        "．": ".",
    }
)
_FULL_WIDTH = {code: code - 0xFEE0 for code in range(0xFF10, 0xFF5B)}


def has_cjk(text: str) -> bool:
    """Whether *text* has Japanese, Chinese or Korean characters (or full-width forms)."""
    return not text.isascii() and _ANY.search(text) is not None


def _value(numeral: str) -> int:
    if numeral.isdigit():
        return int(numeral)
    if "十" in numeral:
        tens, _, ones = numeral.partition("十")
        return _DIGITS.get(tens, 1) * 10 + _DIGITS.get(ones, 0)
    total = 0
    for ch in numeral:
        total = total * 10 + (int(ch) if ch.isdigit() else _DIGITS.get(ch, 0))
    return total


def _japanese_key(match: re.Match[str]) -> str:
    accidental = {"変": "-flat", "嬰": "-sharp", None: ""}[match.group(1)]
    mode = "major" if match.group(3) == "長調" else "minor"
    return f" in {_IROHA[match.group(2)]}{accidental} {mode} "


def _chinese_key(match: re.Match[str]) -> str:
    mark = match.group(1) or match.group(3)
    accidental = "-flat" if mark in ("降", "♭", "b") else "-sharp" if mark else ""
    mode = "major" if match.group(4).startswith("大") else "minor"
    return f" in {match.group(2).upper()}{accidental} {mode} "


def _korean_key(match: re.Match[str]) -> str:
    accidental = {"내림": "-flat", "올림": "-sharp", None: ""}[match.group(1)]
    mode = "major" if match.group(3) == "장조" else "minor"
    return f" in {_KOREAN_NOTES[match.group(2)]}{accidental} {mode} "


@lru_cache(maxsize=8192)
def to_western(text: str) -> str:
    """*text* with the musical terms of eastern scripts in English; other text unchanged."""
    if not has_cjk(text):
        return from_romaji(text)
    text = text.translate(_QUOTES).translate(_FULL_WIDTH)
    movement: list[str] = []

    def keep(match: re.Match[str]) -> str:
        movement.append(f": {_value(match.group(1) or match.group(2))}. ")
        return movement[-1]

    text = _MOVEMENT.sub(keep, text)
    text = _JAPANESE_KEYS.sub(_japanese_key, text)
    text = _CHINESE_KEYS.sub(_chinese_key, text)
    text = _KOREAN_KEYS.sub(_korean_key, text)
    text = _OPUS.sub(lambda m: f" Op. {_value(m.group(1))} ", text)
    text = _OPUS_PART.sub(lambda m: f" No. {_value(m.group(1))} ", text)
    text = _NUMBER.sub(lambda m: f" No. {_value(m.group(1) or m.group(2))} ", text)
    text = _TERMS.sub(lambda m: f" {_WORDS[m.group()]} ", text)
    text = re.sub(r"\s+", " ", text)
    return re.sub(r"(:\s*\d+\.)\s*:\s*", r"\1 ", text).strip()


_WIDE_MARKS = str.maketrans("（）［］【】：；，、／｜　", "()[][]:;,,/| ")


def half_width_marks(text: str) -> str:
    """*text* with the brackets, colons and commas of Japanese and Chinese as ASCII has them."""
    return text if text.isascii() else text.translate(_WIDE_MARKS)


_ENSEMBLE = re.compile(
    r"(?:室内楽団|弦楽合奏|爱乐|愛樂|乐队|樂隊|シンフォニエッタ|カルテット|重奏団|重奏|室内乐团|歌劇場|歌剧院|ゾリステン|交響|交响|交響楽団|管弦楽団|フィルハーモニー|フィル$|四重奏団|合奏団|乐团|樂團|楽団|三重奏団|交响乐团|アンサンブル|オーケストラ|오케스트라|교향악단|관현악단|필하모닉|앙상블|사중주단|삼중주단|체임버)"
)
_CHOIR = re.compile(r"(?:コーラス|シンガーズ|合唱$|合唱団|合唱团|合唱團|합창단)")


def ensemble_kind(name: str) -> str | None:
    """ "ensemble" or "choir" where a Japanese or Chinese name says so, else None."""
    if not has_cjk(name):
        return None
    if _CHOIR.search(name):
        return "choir"
    return "ensemble" if _ENSEMBLE.search(name) else None
