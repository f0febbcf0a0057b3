"""The hub: every open page told, the newest of each, from any thread."""

from __future__ import annotations

import asyncio
import threading

from endbell.web.hub import Hub, Viewer, frame


def gathered(hub: Hub, count: int, last: str = "", publish: object = None) -> list[str]:
    """The first ``count`` events of a page that opens now."""

    async def listen() -> list[str]:
        found: list[str] = []
        stream = hub.events("amp", Viewer("a", "Ana", session="1"), last)
        async for happened in stream:
            if callable(publish) and not found:
                publish()
            if happened is not None and happened.name != "presence":
                found.append(f"{happened.name} {happened.data}")
                if len(found) == count:
                    break
            elif callable(publish) and happened is not None:
                publish()
        await stream.aclose()
        return found

    return asyncio.run(asyncio.wait_for(listen(), 5))


def test_a_slow_page_gets_the_newest_of_each_and_nothing_twice() -> None:
    hub = Hub()

    def many() -> None:
        for i in range(50):
            hub.publish("amp", "strip", str(i))
            hub.publish("amp", "changed", str(i))

    assert gathered(hub, 2, publish=many) == ["strip 49", "changed 49"]


def test_a_page_that_comes_back_is_told_what_it_missed() -> None:
    hub = Hub()
    hub.publish("amp", "changed", "1")
    hub.publish("amp", "verdict", "1")
    hub.publish("amp", "changed", "2")
    assert gathered(hub, 1, last=f"{hub.epoch}-2") == ["changed 2"]
    assert gathered(hub, 2, last=f"{hub.epoch}-1") == ["verdict 1", "changed 2"]
    # ids of an earlier run of the server mean nothing: everything is told
    assert gathered(hub, 2, last="abc-99") == ["verdict 1", "changed 2"]


def test_anybody_may_publish_from_any_thread() -> None:
    hub = Hub()

    def elsewhere() -> None:
        thread = threading.Thread(target=hub.publish, args=("amp", "changed", "7"))
        thread.start()
        thread.join()

    assert gathered(hub, 1, publish=elsewhere) == ["changed 7"]


def test_streams_end_when_the_server_stops() -> None:
    hub = Hub()

    async def listen() -> int:
        count = 0
        async for _ in hub.events("amp", Viewer("a", "Ana")):
            count += 1
            hub.close()
        return count

    assert asyncio.run(asyncio.wait_for(listen(), 5)) == 1
    assert hub.viewers("amp") == ()


def test_who_else_is_here_is_known_while_they_are() -> None:
    hub = Hub()

    async def come_and_go() -> tuple[list[str], list[str]]:
        async def sit(name: str) -> None:
            async for _ in hub.events("amp", Viewer(name, name, session=name)):
                pass

        tasks = [asyncio.create_task(sit(name)) for name in ("Ana", "Ben")]
        await asyncio.sleep(0.01)
        both = [v.name for v in hub.viewers("amp")]
        tasks[0].cancel()
        await asyncio.sleep(0.01)
        one = [v.name for v in hub.viewers("amp")]
        hub.close()
        await asyncio.gather(*tasks, return_exceptions=True)
        return both, one

    assert asyncio.run(come_and_go()) == (["Ana", "Ben"], ["Ben"])


def test_a_quiet_stream_shows_that_it_is_still_there() -> None:
    hub = Hub(keep_alive=0.01)

    async def listen() -> object:
        async for happened in hub.events("amp", Viewer("a", "Ana")):
            if happened is None:
                return None
        return "ended"

    assert asyncio.run(asyncio.wait_for(listen(), 5)) is None


def test_data_of_many_lines_stays_in_one_event() -> None:
    hub = Hub()
    hub.publish("amp", "strip", "<p>\nBuilt 1964\n</p>")
    happened = hub._newest["amp"]["strip"]
    assert frame(happened, "e-1") == (
        "id: e-1\nevent: strip\ndata: <p>\ndata: Built 1964\ndata: </p>\n\n"
    )
