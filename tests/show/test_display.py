"""The display driven by Textual's own pilot."""

import asyncio
import threading

from handsfree.show.display import Board
from tests.show.scenes import view_after


def drive(act, *, size=(80, 24), view=None):
    """Run the board without a terminal, do `act` with its pilot, and give what it passed on."""
    pressed, left, views = [], [], [view or view_after("16.5")]
    board = Board(lambda: views[-1], pressed.append, lambda: left.append(True))

    async def run():
        async with board.run_test(size=size) as pilot:
            await pilot.pause(0.3)
            await act(board, pilot, views)

    asyncio.run(run())
    return pressed, left


def screen(board):
    """What is on the screen, as text."""
    width, height = board.size
    lines = ["".join(segment.text for segment in strip) for strip in board.screen._compositor.render_strips()]
    assert len(lines) == height
    assert max(map(len, lines)) <= width
    return lines


def test_board_shows_the_view():
    async def act(board, pilot, views):
        lines = screen(board)
        assert "LISTENING" in lines[0]
        assert any("1 top SHORT <" in line for line in lines)

    drive(act)


def test_board_is_drawn_anew_when_the_view_changes():
    async def act(board, pilot, views):
        views.append(view_after("21"))
        await pilot.pause(0.4)
        assert any("1 top OVER >" in line for line in screen(board))

    drive(act)


def test_board_that_is_told_of_changes_shows_them_as_soon():
    async def run():
        views = [view_after("16.5")]
        board = Board(lambda: views[-1], lambda _: None, lambda: None, nudged=True)
        async with board.run_test(size=(80, 24)) as pilot:
            for heard, shown in (("21", "1 top OVER >"), ("16.5", "1 top SHORT <")) * 2:
                await pilot.pause(0.1)
                views.append(view_after(heard))
                telling = threading.Thread(target=lambda: [board.nudge() for _ in range(50)])
                telling.start()
                await pilot.pause(0.25)
                telling.join()
                assert any(shown in line for line in screen(board))

    asyncio.run(run())


def test_board_fits_a_screen_that_changes_its_size():
    async def act(board, pilot, views):
        await pilot.resize_terminal(120, 40)
        await pilot.pause(0.3)
        assert len(screen(board)) == 40

    drive(act)


def test_keys_of_the_pad_are_passed_on_by_name_and_any_other_as_other():
    async def act(board, pilot, views):
        keys = ["3", "asterisk", "1", "8", "full_stop", "5", "plus", "minus", "slash", "a", "f1", "left"]
        await pilot.press(*keys, "enter", "backspace", "escape")

    pressed, left = drive(act)
    assert pressed == [*"3*18.5+-/", *["other"] * 3, "Enter", "Backspace", "Num Lock"]
    assert left == []


def test_ctrl_c_leaves():
    async def act(board, pilot, views):
        await pilot.press("ctrl+c")

    assert drive(act)[1] == [True]
