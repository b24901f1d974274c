"""What stands on the first screen of a page, in sentences, and what they may not be."""

import html
import re

BOUND = 250  # words
LONGEST = 20  # words of a sentence
BLOCKS = r"</?(?:p|b|li|td|th|h1|h2|h3|ul|ol|tr|div|span role|figure|figcaption|section|header|table|dt|dd)\b[^>]*>"
INTERVAL = re.compile(r"\([^()]*\d[^()]* to [^()]*\d[^()]*\)")


def first_screen(page):
    """What is read before anything unfolds, and before what was read or found is told in full; pictures left out."""
    end = min(page.find(end) % len(page) for end in ENDS)
    text = re.sub("|".join(PICTURES), " ", page[page.index("<header>") : page.rindex("<", 0, end)], flags=re.S)
    return re.sub(r'<(h2|thead)[^>]*class="unseen".*?</\1>', " ", text, flags=re.S)


PICTURES = (
    "<details.*?</details>", "<svg.*?</svg>", '<ul class="legend.*?</ul>', '<section class="picture.*?</section>',
    '<span class="scale">.*?</span>',
)  # fmt: skip
ENDS = ('class="tasted"', 'class="second"', 'id="verdicts"', 'id="others"', 'id="next"', 'class="fine"')


def plain(markup):
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", markup)).split())


def sentences(markup):
    """Every sentence, or clause between semicolons and colons, of every block."""
    for block in re.split(BLOCKS, markup):
        yield from (part for part in re.split(r"(?<=[.?!;:])\s+", plain(block)) if part)


# A letter where a word belongs, a name of a test or of a model, a look that is no serving, an argument of a function.
UNPLAIN = re.compile(
    r"\bp [=<]|\bp 0|\bd['′]|\bicc\b|\bsd\b|fisher|satterthwaite|\banova\b|degrees of freedom|standard error|"
    r"\blook(?:s|ed|ing)? (?:at|for|again)\b|\b[a-z]+_[a-z]+\b|\w+=\w",
    re.I,
)


NAMES = re.compile(r"(?:\S+, ){5,}\S+ and \S+")  # a list of many lots is one thing to read


def faults(page):
    """Sentences of a first screen that are too long, hold several intervals, or speak of statistics."""
    found = []
    for sentence in sentences(first_screen(page)):
        if len(NAMES.sub("names", sentence).split()) > LONGEST:
            found.append(("long", sentence))
        if len(INTERVAL.findall(sentence)) > 1:
            found.append(("intervals", sentence))
        if UNPLAIN.search(sentence):
            found.append(("unplain", sentence))
    return found
