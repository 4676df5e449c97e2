"""The window is opened from the command line: what it says where it cannot be, and how it ends when it is told to."""
import os
import signal
import subprocess
import time

from program import PROGRAM, RESOURCES, SAMPLES, ProgramTest, main


class WindowStart(ProgramTest):
    def test_no_display(self):
        self.refused(environment={"QT_QPA_PLATFORM": "", "DISPLAY": ""}, says="no display")
        self.refused(SAMPLES / "D1.setwright", environment={"QT_QPA_PLATFORM": "", "DISPLAY": ""}, says="no display")
        self.refused("--plan", environment={"QT_QPA_PLATFORM": "xcb", "DISPLAY": ""}, says="no display")

    def test_display_that_does_not_answer(self):
        self.refused(environment={"QT_QPA_PLATFORM": "", "DISPLAY": ":987"}, says=":987")

    def test_file_that_is_not_there(self):
        self.refused("no-such-file", environment={"QT_QPA_PLATFORM": "offscreen"}, says="no-such-file")

    def test_told_to_end_it_ends_without_a_question(self):
        for told in (signal.SIGTERM, signal.SIGINT):
            state = self.folder / "state"
            running = subprocess.Popen([PROGRAM, str(SAMPLES / "D1.setwright")], stderr=subprocess.PIPE, cwd=self.folder,
                                       env={**os.environ, "SETWRIGHT_RESOURCES": str(RESOURCES), "XDG_STATE_HOME": str(state),
                                            "XDG_CONFIG_HOME": str(self.folder), "QT_QPA_PLATFORM": "offscreen"})
            self.addCleanup(running.kill)
            # Its folder is made while the window is put together.
            until = time.monotonic() + 60
            while not (state / "setwright" / "autosave").is_dir() and time.monotonic() < until:
                self.assertIsNone(running.poll())
                time.sleep(0.05)
            time.sleep(3)
            self.assertIsNone(running.poll(), "the window stays open")
            running.send_signal(told)
            self.assertEqual(running.wait(20), 0)
            running.stderr.close()
            # Nothing was changed, so nothing is left behind.
            self.assertEqual(list((state / "setwright" / "autosave").iterdir()), [])


if __name__ == "__main__":
    main()
