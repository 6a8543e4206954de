"""Notes as HTML: what is plain is shown, what could lead out of the page or act in it stays text."""

import pytest

from hotspot.records import Papers, Photo
from hotspot.tell.papers import notes_html, photo_figures


def test_plain_markdown_is_shown():
    # CommonMark 0.31.2, sections 4.2, 4.8, 5.2 and 6.2; headings are brought under the report's own
    shown = notes_html(
        "# Found\n\nPlug *browned*, **pin 4**\nloose.\n\n- one\n- two\n\n3. three\n\n| a | b |\n|--|--|\n| 1 | 2 |\n"
    )
    for wanted in (
        "<h4>Found</h4>",
        "<em>browned</em>",
        "<strong>pin 4</strong><br",
        "<li>two</li>",
        '<ol start="3">',
        "<td>1</td>",
    ):
        assert wanted in shown, wanted


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert(1)</script>",
        "<img src=x onerror=alert(1)>",
        "![x](http://host.invalid/a.png)",
        "[x](javascript:alert(1))",
        "[x](http://host.invalid/)",
        "<http://host.invalid/>",
        "http://host.invalid/",
        "[x]: http://host.invalid/\n\n[x]",
        "```js onclick\n<b onmouseover=alert(1)>\n```",
        "| <b> | x |\n|:--|--:|\n| <i>a</i> | & |",
        "</section></main><h1>x",
        "\u202e{{ 7*7 }}",
    ],
)
def test_what_could_act_or_lead_away_stays_text(text):
    shown = notes_html(text)
    for bad in ("<script", "<img", "<a ", "<b", "<i>", "<h1", "</section", 'class="'):
        assert bad not in shown.replace("<br", ""), shown
    assert "49" not in shown


def test_a_photograph_is_inside_the_page():
    (figure,) = photo_figures(Papers(photos=(Photo("pin 4 browned.jpg", b"\xff\xd8", 640, 480),)))
    assert figure == {"uri": "data:image/jpeg;base64,/9g=", "width": 640, "height": 480, "name": "pin 4 browned"}
