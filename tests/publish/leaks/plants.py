"""Leaks of every kind, to be planted in a finished build."""

from __future__ import annotations

import base64
import gzip
import io
import json
import re
import struct
from collections.abc import Callable
from dataclasses import dataclass
from urllib.parse import quote

import pikepdf
import typst
from PIL import Image

from kit.engrave.words import describe_bars
from kit.publish._sheets import page_sheet
from kit.publish.page.timing import note_spans
from kit.sound._id3 import id3_tag

from .conftest import HARD, MEMBERS, Stage, drawing

PAGE, PDF = "public/index.html", "handouts/easy-alto-sax.pdf"
XML, MIDI = "parts/easy-alto-sax.musicxml", "midi/easy.mid"
MP3, VTT = "audio/easy-demo.mp3", "timing/easy.vtt"
PACK, BAND = "public/page/easy-trombone.js", "audio/easy-band.js"
TROMBONE = "audio/easy-melody-trombone.js"
TALK = "Good evening from the far end of the pier, where the gulls complain."
WORDS = "cell 4"


@dataclass(frozen=True)
class Plant:
    """What is planted where, which print finds it, and what the leak says."""

    name: str
    path: str
    change: Callable[[bytes, Stage], bytes]
    kinds: set[str]
    place: str
    what: str


def in_page(html: str | Callable[[Stage], str]) -> Callable[[bytes, Stage], bytes]:
    """Put something before the end of the page's body."""

    def change(data: bytes, stage: Stage) -> bytes:
        text = html if isinstance(html, str) else html(stage)
        return data.replace(b"</main>", text.encode() + b"</main>", 1)

    return change


def in_json(data: bytes, stage: Stage) -> bytes:
    text = json.dumps({"note": MEMBERS}, ensure_ascii=True)
    return data.replace(b"</body>", f"<script>const x = {text};</script></body>".encode())


def in_pack(data: bytes, stage: Stage) -> bytes:
    match = re.search(rb'"easy/trombone","([^"]+)"', data)
    pack = json.loads(gzip.decompress(base64.b64decode(match[1])))
    pack["figures"]["f9-9"] = f"<p>{MEMBERS.replace('second', '<em>sec</em>ond')}</p>"
    packed = gzip.compress(json.dumps(pack).encode(), mtime=0)
    return data.replace(match[1], base64.b64encode(packed))


def other_piece(player: str, path: str) -> Callable[[bytes, Stage], bytes]:
    """Put a piece of a members' stem where one of a free level's is."""

    def change(data: bytes, stage: Stage) -> bytes:
        wanted = re.compile(rf'put\("[^"]+/{player}/2","([^"]+)"'.encode())
        paid, free = wanted.search(stage.read(path)), wanted.search(data)
        return data.replace(free[1], paid[1])

    return change


def in_pdf(edit: Callable[[pikepdf.Pdf, Stage], None]) -> Callable[[bytes, Stage], bytes]:
    def change(data: bytes, stage: Stage) -> bytes:
        kept = io.BytesIO()
        with pikepdf.open(io.BytesIO(data)) as pdf:
            edit(pdf, stage)
            pdf.save(kept)
        return kept.getvalue()

    return change


def typeset(data: bytes, stage: Stage) -> bytes:
    """Set the words in a column so narrow that words are cut at the ends of lines."""
    source = (
        "#set page(width: 4.2cm, height: 20cm, margin: 4mm)\n"
        f'#set text(hyphenate: true, lang: "en")\n{MEMBERS}'
    )
    return typst.compile(source.encode(), ignore_system_fonts=True)


def attach(name: str, data: Callable[[Stage], bytes]) -> Callable[[bytes, Stage], bytes]:
    def edit(pdf: pikepdf.Pdf, stage: Stage) -> None:
        pdf.attachments[name] = pikepdf.AttachedFileSpec(pdf, data(stage), filename=name)

    return in_pdf(edit)


def picture_in_pdf(pdf: pikepdf.Pdf, stage: Stage) -> None:
    picture = Image.open(io.BytesIO(drawing(2))).convert("RGB")
    stream = pikepdf.Stream(
        pdf, picture.tobytes(), Type=pikepdf.Name.XObject, Subtype=pikepdf.Name.Image,
        Width=picture.width, Height=picture.height, BitsPerComponent=8,
        ColorSpace=pikepdf.Name.DeviceRGB,
    )  # fmt: skip
    pdf.pages[0].Resources.XObject = pikepdf.Dictionary(Im9=pdf.make_indirect(stream))


def alternative(pdf: pikepdf.Pdf, stage: Stage) -> None:
    item = next(o for o in pdf.objects if isinstance(o, pikepdf.Dictionary) and "/Alt" in o)
    item.Alt = pikepdf.String(MEMBERS)


def set_subject(pdf: pikepdf.Pdf, stage: Stage) -> None:
    pdf.docinfo["/Subject"] = MEMBERS


def set_metadata(pdf: pikepdf.Pdf, stage: Stage) -> None:
    with pdf.open_metadata(set_pikepdf_as_editor=False, update_docinfo=False) as data:
        data["dc:description"] = MEMBERS


def set_bookmark(pdf: pikepdf.Pdf, stage: Stage) -> None:
    with pdf.open_outline() as outline:
        outline.root.append(pikepdf.OutlineItem(MEMBERS, 0))


def set_link(pdf: pikepdf.Pdf, stage: Stage) -> None:
    action = pikepdf.Dictionary(
        S=pikepdf.Name.URI, URI="https://x.example/?" + quote(MEMBERS)
    )
    pdf.Root.OpenAction = pdf.make_indirect(action)


def in_xml(before: str, text: str) -> Callable[[bytes, Stage], bytes]:
    return lambda data, stage: data.replace(before.encode(), (text + before).encode(), 1)


def as_lyrics(data: bytes, stage: Stage) -> bytes:
    """Lay the words under the notes, each cut into two syllables."""
    syllables = []
    for word in MEMBERS.split():
        middle = len(word) // 2
        if middle:
            syllables += [(word[:middle], "begin"), (word[middle:], "end")]
        else:
            syllables.append((word, "single"))
    rows = iter(syllables)

    def lyric(match: re.Match[bytes]) -> bytes:
        row = next(rows, None)
        if row is None:
            return match[0]
        text = f"<lyric><syllabic>{row[1]}</syllabic><text>{row[0]}</text></lyric></note>"
        return text.encode()

    return re.sub(rb"</note>", lyric, data)


def another(path: str) -> Callable[[bytes, Stage], bytes]:
    """Put another file's bytes, changed a little, where a free file was."""
    return lambda data, stage: stage.read(path)


def retitled(path: str) -> Callable[[bytes, Stage], bytes]:
    """The same for a file that its hash would find: one letter of it is another."""
    return lambda data, stage: stage.read(path).replace(b"Gull", b"Gulp")


def spliced(data: bytes, stage: Stage) -> bytes:
    """Three seconds of the members' sound between the frames of the free one."""
    sound = stage.read("audio/hard-demo.mp3")
    sound = sound[sound.index(b"\xff\xfb") :]
    frame, start = 480, 480 * 250
    free = data.index(b"\xff\xfb") + 480 * 100
    return data[:free] + sound[start : start + frame * 125] + data[free:]


def retagged(data: bytes, stage: Stage) -> bytes:
    sound = stage.read("audio/hard-demo.mp3")
    return id3_tag({"title": "Another"}) + sound[sound.index(b"\xff\xfb") :]


def tagged(frame: bytes, body: bytes) -> Callable[[bytes, Stage], bytes]:
    """Give an MP3 one more tag frame in front."""

    def change(data: bytes, stage: Stage) -> bytes:
        inside = frame + struct.pack(">IH", len(body), 0) + body
        size = len(inside)
        head = bytes(size >> shift & 0x7F for shift in (21, 14, 7, 0))
        return b"ID3\x03\x00\x00" + head + inside + data

    return change


def text_event(data: bytes, stage: Stage) -> bytes:
    import mido

    song = mido.MidiFile(file=io.BytesIO(data))
    song.tracks[0].insert(0, mido.MetaMessage("text", text=MEMBERS.replace("’", "'")))
    kept = io.BytesIO()
    song.save(file=kept)
    return kept.getvalue()


def as_jpeg(stage: Stage) -> bytes:
    kept = io.BytesIO()
    Image.open(io.BytesIO(drawing(2))).convert("RGB").save(kept, "JPEG", quality=60)
    return kept.getvalue()


def png_with_text(stage: Stage) -> bytes:
    from PIL.PngImagePlugin import PngInfo

    info, kept = PngInfo(), io.BytesIO()
    info.add_text("Comment", MEMBERS, zip=True)
    Image.open(io.BytesIO(drawing(1))).save(kept, "PNG", pnginfo=info)
    return kept.getvalue()


def embedded(data: Callable[[Stage], bytes], mime: str) -> Callable[[bytes, Stage], bytes]:
    return in_page(
        lambda stage: (
            f'<img alt="" src="data:{mime};base64,'
            f'{base64.b64encode(data(stage)).decode()}">'
        )
    )


def said(stage: Stage) -> str:
    part = stage.built.lesson.part("hard", "trombone")
    return "".join(f"<li>{text}</li>" for text in describe_bars(part))


def drawn(stage: Stage) -> str:
    svg = page_sheet(stage.built.lesson.part("hard", "trombone"))
    return re.sub(r'aria-label="[^"]*"', "", svg)


def timing(stage: Stage) -> str:
    spans = note_spans(stage.built.lesson.level("hard"))
    return f'<script type="application/json">{json.dumps({"x": spans})}</script>'


PLANTS = [
    Plant("prose", PAGE, in_page(f"<p>{MEMBERS}</p>"), {"words"}, "text", WORDS),
    Plant(
        "prose cut by markup",
        PAGE,
        in_page(
            f"<p>{MEMBERS.replace('every', '<b>ev</b>e&#114;y').replace('w', 'w&shy;')}</p>"
        ),
        {"words"},
        "text",
        WORDS,
    ),
    Plant(
        "a short sentence",
        PAGE,
        in_page("<p>Tie the boat first.</p>"),
        {"words"},
        "text",
        "cell 12",
    ),
    Plant(
        "capitals and ligatures",
        PAGE,
        in_page(f"<p>{MEMBERS.upper().replace('FI', 'ﬁ')}</p>"),
        {"words"},
        "text",
        WORDS,
    ),
    Plant(
        "prose of a members' level",
        PAGE,
        in_page("<p>the old keeper whistles the bridge backwards on sundays</p>"),
        {"words"},
        "text",
        "cell 7",
    ),
    Plant(
        "a hidden cell",
        PAGE,
        in_page("<p>Nobody has been told why the seventh gull was called so</p>"),
        {"words"},
        "text",
        "cell 8",
    ),
    Plant(
        "a cell with an unknown tag",
        PAGE,
        in_page("<p>Count the lamps along the quay before you count the bars.</p>"),
        {"words"},
        "text",
        "cell 10",
    ),
    Plant(
        "a cell of a free and a members' level",
        PAGE,
        in_page("<p>Both of you meet under the clock when the ferry has gone.</p>"),
        {"words"},
        "text",
        "cell 11",
    ),
    Plant("script data", PAGE, in_json, {"words"}, "script", WORDS),
    Plant("a compressed pack", PACK, in_pack, {"words"}, "figures", WORDS),
    Plant("a comment", PAGE, in_page(f"<!-- {MEMBERS} -->"), {"words"}, "comment", WORDS),
    Plant(
        "an attribute",
        PAGE,
        in_page(f'<i title="{MEMBERS}"></i>'),
        {"words"},
        "attribute title",
        WORDS,
    ),
    Plant(
        "a link",
        PAGE,
        in_page(f'<a href="mailto:x?body={quote(MEMBERS)}">x</a>'),
        {"words"},
        "attribute href",
        WORDS,
    ),
    Plant(
        "words in base64",
        PAGE,
        in_page(f"<i>{base64.b64encode(MEMBERS.encode()).decode()}</i>"),
        {"words"},
        "data in <i>",
        WORDS,
    ),
    Plant(
        "the teacher's own talk",
        PAGE,
        in_page(f"<p>{TALK}</p>"),
        {"words"},
        "text",
        "the recording",
    ),
    Plant(
        "a comment of lesson.toml",
        PAGE,
        in_page("<p>ask the harbour master before printing these pages in colour</p>"),
        {"words"},
        "text",
        "a comment in lesson.toml",
    ),
    Plant("the words of a page of a PDF", PDF, typeset, {"words"}, "page 1", WORDS),
    Plant(
        "a property of a PDF",
        PDF,
        in_pdf(set_subject),
        {"words"},
        "document property Subject",
        WORDS,
    ),
    Plant("the metadata of a PDF", PDF, in_pdf(set_metadata), {"words"}, "metadata", WORDS),
    Plant(
        "a text in a PDF for screen readers",
        PDF,
        in_pdf(alternative),
        {"words"},
        "alternative text",
        WORDS,
    ),
    Plant("a bookmark of a PDF", PDF, in_pdf(set_bookmark), {"words"}, "bookmark", WORDS),
    Plant("a link of a PDF", PDF, in_pdf(set_link), {"words"}, "link", WORDS),
    Plant(
        "a text attached to a PDF",
        PDF,
        attach("x.txt", lambda _: MEMBERS.encode()),
        {"words"},
        "attachment x.txt",
        WORDS,
    ),
    Plant(
        "words of MusicXML",
        XML,
        in_xml(
            "</measure>",
            f"<direction><direction-type><words>{MEMBERS}</words></direction-type></direction>",
        ),
        {"words"},
        "words",
        WORDS,
    ),
    Plant(
        "a credit of MusicXML",
        XML,
        in_xml("<part-list>", f"<credit><credit-words>{MEMBERS}</credit-words></credit>"),
        {"words"},
        "credit-words",
        WORDS,
    ),
    Plant(
        "a miscellaneous field of MusicXML",
        XML,
        in_xml(
            "<part-list>",
            f'<x><miscellaneous-field name="a">{MEMBERS}</miscellaneous-field></x>',
        ),
        {"words"},
        "miscellaneous-field",
        WORDS,
    ),
    Plant("lyrics", XML, as_lyrics, {"words"}, "lyrics, verse 1", WORDS),
    Plant("a text event of MIDI", MIDI, text_event, {"words"}, "text event", WORDS),
    Plant(
        "a note of WebVTT",
        VTT,
        lambda d, s: d + f"\nNOTE\n{MEMBERS}\n".encode(),
        {"words"},
        "",
        WORDS,
    ),
    Plant(
        "a comment of an MP3",
        MP3,
        tagged(b"COMM", b"\x01eng\xff\xfe\0\0\xff\xfe" + MEMBERS.encode("utf-16-le")),
        {"words"},
        "ID3 COMM",
        WORDS,
    ),
    Plant(
        "a text in a picture",
        PAGE,
        embedded(png_with_text, "image/png"),
        {"words"},
        "PNG chunk",
        WORDS,
    ),
    Plant(
        "notes in another key",
        XML,
        retitled("parts/hard-trombone.musicxml"),
        {"melody"},
        "notes",
        'notes of level "hard"',
    ),
    Plant(
        "notes as MIDI",
        MIDI,
        lambda d, s: s.read("midi/hard.mid") + b" ",
        {"melody"},
        "notes",
        'notes of level "hard"',
    ),
    Plant(
        "notes as ABC",
        PAGE,
        in_page(f"<pre>{HARD.replace('Gull', 'Gulp')}</pre>"),
        {"melody"},
        "text, ABC",
        'notes of level "hard"',
    ),
    Plant(
        "notes in words",
        PAGE,
        in_page(said),
        {"melody"},
        "notes in words",
        'notes of level "hard"',
    ),
    Plant(
        "notes attached to a PDF",
        PDF,
        attach("y.musicxml", lambda s: s.read("parts/hard-alto-sax.musicxml") + b"\n"),
        {"melody"},
        "attachment y.musicxml",
        'notes of level "hard"',
    ),
    Plant(
        "drawn notes",
        PAGE,
        in_page(drawn),
        {"drawn"},
        "drawn music",
        'notes of level "hard"',
    ),
    Plant(
        "the times of notes",
        PAGE,
        in_page(timing),
        {"numbers"},
        "script data",
        'timing of level "hard"',
    ),
    Plant(
        "a members' MP3 under a free name",
        MP3,
        another("audio/hard-demo.mp3"),
        {"frames", "files"},
        "",
        'demo sound of level "hard"|the file audio/hard-demo.mp3',
    ),
    Plant(
        "a members' MP3 with other tags",
        MP3,
        retagged,
        {"frames"},
        "sound",
        'demo sound of level "hard"',
    ),
    Plant(
        "three seconds of a members' MP3",
        MP3,
        spliced,
        {"frames"},
        "sound",
        'demo sound of level "hard"',
    ),
    Plant(
        "a members' MP3 in the page",
        PAGE,
        embedded(lambda s: s.read("audio/hard-demo.mp3")[200:], "audio/mpeg"),
        {"frames"},
        "sound",
        'demo sound of level "hard"',
    ),
    Plant(
        "a members' bass beside the page",
        BAND,
        other_piece("bass", "audio/hard-band.js"),
        {"frames"},
        "sound",
        'the bass of level "hard"',
    ),
    Plant(
        "a members' melody for one instrument beside the page",
        TROMBONE,
        other_piece("melody", "audio/hard-melody-trombone.js"),
        {"frames"},
        "sound",
        'the melody of trombone of level "hard"',
    ),
    Plant(
        "a members' FLAC with other tags",
        MP3,
        lambda d, s: s.read("audio/hard-demo.flac").replace(b"Gull", b"Gulp"),
        {"files"},
        "sound",
        "the file audio/hard-demo.flac",
    ),
    Plant(
        "a picture as it is",
        PAGE,
        embedded(lambda s: drawing(2), "image/png"),
        {"blobs", "looks"},
        "data in <img>",
        "a picture of cell 6|the file plan.png",
    ),
    Plant(
        "a picture as JPEG",
        PAGE,
        embedded(as_jpeg, "image/jpeg"),
        {"looks"},
        "picture",
        "a picture of cell 6",
    ),
    Plant(
        "a picture in a PDF",
        PDF,
        in_pdf(picture_in_pdf),
        {"looks", "blobs"},
        "picture",
        "a picture of cell 6",
    ),
    Plant(
        "a picture as a cover",
        MP3,
        lambda d, s: tagged(b"APIC", b"\0image/jpeg\0\x03\0" + as_jpeg(s))(d, s),
        {"looks"},
        "ID3 APIC",
        "a picture of cell 6",
    ),
    Plant(
        "the still of the recording",
        PAGE,
        embedded(lambda s: s.read("recording/hard-still.png"), "image/png"),
        {"blobs", "looks"},
        "data in <img>",
        "recording/hard-still.png",
    ),
    Plant(
        "a members' handout attached to a free one",
        PDF,
        attach("z.pdf", lambda s: s.read("handouts/hard-alto-sax.pdf")),
        {"blobs", "melody", "words", "names"},
        "attachment z.pdf",
        "the file handouts/hard-alto-sax.pdf",
    ),
    Plant(
        "a file of the lesson folder",
        PDF,
        attach("q.txt", lambda s: (s.built.folder / "lesson.toml").read_bytes()),
        {"blobs", "words", "names"},
        "attachment q.txt",
        "the file lesson.toml of the lesson folder",
    ),
    Plant(
        "the name of a members' file",
        PAGE,
        in_page('<a href="audio/hard-demo.mp3">x</a>'),
        {"names"},
        "attribute href",
        "the name of the file audio/hard-demo.mp3",
    ),
]
