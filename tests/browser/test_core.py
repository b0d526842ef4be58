"""The page's core modules, run in the browser that they are for, against the browser's own."""

import json
from typing import Any

from playwright.sync_api import Page

from tests.browser.conftest import Set

STREAM = (
    ': a comment\n\nid: 1\nevent: hello\ndata: {"a": 1}\n\n'
    "data: two\ndata: lines\r\n\r\nevent:kept\rdata:no space\r\rdata\n\n"
    "id: 7\nretry: 10\ndata: ü€𝄞\nunknown: field\n\nevent: never\n\ndata: unfinished"
)


def run(page: Page, script: str, argument: Any = None) -> Any:
    """Evaluate an async function body with the core modules at hand."""
    return page.evaluate(f"async (given) => {{ {script} }}", argument)


def test_our_event_parser_reads_what_the_browsers_eventsource_reads(house: Set) -> None:
    with house.page() as page:
        page.goto(house.service.url)
        page.route(
            "**/stream",
            lambda route: route.fulfill(
                body=STREAM.encode(), content_type="text/event-stream; charset=utf-8"
            ),
        )
        theirs = run(
            page,
            """return await new Promise(done => {
                const source = new EventSource('/stream');
                const heard = [];
                for (const name of ['message', 'hello', 'kept', 'never']) {
                    source.addEventListener(name, one =>
                        heard.push({id: one.lastEventId, event: one.type, data: one.data}));
                }
                source.onerror = () => { source.close(); done(heard); };
            });""",
        )
        page.unroute("**/stream")
        assert len(theirs) == 5
        ours = run(
            page,
            """const {EventParser} = await import('/core/event-parser.js');
            const every = [];
            for (let size = 1; size <= 9; size++) {
                const parser = new EventParser();
                const heard = [];
                for (let at = 0; at < given.length; at += size) {
                    heard.push(...parser.feed(given.slice(at, at + size)));
                }
                every.push(heard);
            }
            return every;""",
            STREAM,
        )
        for heard in ours:
            assert heard == theirs


def test_a_hostile_live_socket_breaks_nothing(house: Set) -> None:
    """Text, cut pictures, lying lengths, broken JSON: passed over, the next one asked for."""
    with house.page() as page:
        page.goto(house.service.url)
        found = run(
            page,
            """const {LiveSocket, parseHeader} = await import('/core/live.js');
            const bytes = (...list) => new Uint8Array(list).buffer;
            const comment = text => {
                const body = new TextEncoder().encode(text);
                const length = body.length + 2;
                return bytes(255, 216, 255, 254, length >> 8, length & 255, ...body, 255, 217);
            };
            const good = comment(JSON.stringify({seq: 1, at_ms: 5, age_ms: 1, source: 'live'}));
            const bad = ['text', bytes(), bytes(255), bytes(255, 216, 255, 254, 255, 255, 1),
                bytes(255, 216, 255, 224, 0, 4, 1, 1), comment('{'), comment('null'), comment('[]'),
                comment('{"at_ms": "x"}'), good.slice(0, 10)];
            const sent = [];
            let socket;
            const live = new LiveSocket({
                url: 'ws://nowhere', onOpen() {}, onClosed() {},
                onPicture: (_, header) => sent.push(['picture', header.seq]),
                open: () => socket = {
                    readyState: 1, send: text => sent.push(JSON.parse(text).want), close() {},
                },
            });
            live.start();
            socket.onopen();
            const threw = [];
            for (const data of bad) {
                try { socket.onmessage({data}); } catch (error) { threw.push(String(error)); }
            }
            socket.onmessage({data: good});
            return {sent, threw};""",
        )
    assert found["threw"] == []
    assert found["sent"][-1] == ["picture", 1]
    assert found["sent"][:-1] == ["next"] * 10  # one on opening, one for each binary message


def test_age_counts_what_a_picture_waited_in_the_network(house: Set) -> None:
    with house.page() as page:
        page.goto(house.service.url)
        ages = run(
            page,
            """const {AgeClock} = await import('/core/age.js');
            const clock = new AgeClock();
            const seen = [];
            // The service's clock is 1,000,000 ms ahead; pictures sent at 0, 100, 200 arrive
            // after 5, 5 and 800 ms.
            for (const [sent, took] of [[0, 5], [100, 5], [200, 800]]) {
                const now = sent + took;
                clock.note(1e6 + sent, now);
                seen.push(now - clock.toOurs(1e6 + sent));
            }
            return seen;""",
        )
    assert ages == [0, 0, 795]


def test_playback_time_follows_the_clock_not_the_ticks(house: Set) -> None:
    with house.page() as page:
        page.goto(house.service.url)
        seen = run(
            page,
            """const {Player} = await import('/models/player.js');
            const player = new Player();
            player.load(240, 24000 / 1001, 0);
            player.play();
            const seen = [];
            for (const ms of [0, 40, 42, 499, 501, 5005]) seen.push(player.tick(1000 + ms));
            player.loop = false;
            seen.push(player.tick(1000 + 60000), player.playing);
            return seen;""",
        )
    # frame = floor(t × 24000/1001), a frame beginning at 41.7, 500.5 and 5005 ms
    assert seen == [0, 0, 1, 11, 12, 120, 239, False]


def test_words_for_what_the_next_press_does(house: Set) -> None:
    cases = [
        ({"kind": "append"}, 1, ["next exposure", "13", "1.08 s", "on ones"]),
        ({"kind": "append"}, 2, ["next exposure", "13", "1.17 s", "on twos"]),
        (
            {"kind": "retake", "exposure": {"number": 7, "hold": 1}},
            1,
            ["replaces exposure 7", "7", "1.00 s", "on ones"],
        ),
        (
            {"kind": "insert", "exposure": {"number": 7, "hold": 1}},
            1,
            ["goes in after exposure 7", "8", "1.08 s", "on ones"],
        ),
    ]
    with house.page() as page:
        page.goto(house.service.url)
        for armed, hold, expected in cases:
            opened = {
                "shot": {"frame_rate": "12", "frame_count": 12, "exposure_count": 12},
                "armed": armed,
                "hold": hold,
            }
            said = run(
                page,
                """const {describeNext} = await import('/models/next.js');
                const {does, number, time, hold} = describeNext(given);
                return [does, number, time, hold];""",
                opened,
            )
            assert said == expected, json.dumps(armed)
