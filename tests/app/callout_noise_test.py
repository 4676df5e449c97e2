"""Nonsense for callouts, 500 in all: every answer is yes or a sentence, and a refused one leaves the file as it was."""
import os
import random

from program import ProgramTest, main
from step_boxes import boxes

COUNT = 250
WORDS = ("A1", "K14", "X48", "ZZ9", "I3", "A0", "A-1", "C99999999999999999999", "E", "N", "SW", "NE", "30°", "17°", "-5°", "8 over, 5 up", "1 left, 2 down",
         "0 over, 0 up", "6", "-3", "4.5", "1e9", "·", "·", "·", "plate 100", "plate", "plate 7", "under 10+5", "under", "under +", "under 0.1",
         "face 2", "face 2+2+2+2+2+2+2+2", "left-hand", "right-hand", "second J13", "second", "1:", "2:B4", "9/x:", ":", "on \"P1\" top 120 along, 30 across",
         "on \"", "floor south 300 along, 150 out", "floor up", "\u202e", "\x01", "½", "😀", "\ud800", "'; rm", "%s%n", "{name}", "a" * 3000, "\t", "  ")
COMPONENTS = ("m50-index-stop", "m50-rest-50", "m50-angle-plate-300", "m50-round-stop-50x150", "m50-pull-back-stop", "m50-down-clamp-100",
              "mm-bar-clamp-400", "mm-magnet-75", "m50-long-bar-500", "m50-wedge-45", "m50-v-block-90", "m100-rest-50", "none", "")


class Noise(ProgramTest):
    @staticmethod
    def nonsense(dice, job, callout):
        return ("place", job, callout, dice.choice(COMPONENTS)) if dice.random() < 0.8 else ("set", job, "1", callout)

    def test_first_half(self):
        self.callouts(2400)

    def test_second_half(self):
        self.callouts(2401)

    def callouts(self, seed):
        step, job = self.folder / "box.step", self.folder / "job.setwright"
        step.write_text(boxes((300, 50, 50)))
        self.good("new", step, "-o", job)
        dice = random.Random(seed)
        taken = refused = 0
        for _ in range(COUNT):
            # Half begin as a callout should, so that nonsense gets past the first word.
            start = [f"{dice.choice('ABCKWX')}{dice.randint(1, 48)}"] if dice.random() < 0.5 else []
            callout = " ".join(start + [dice.choice(WORDS) for _ in range(dice.randint(0, 4))])
            # Bytes that are no UTF-8 come through a shell too.
            callout = os.fsdecode(callout.encode("utf-8", "surrogatepass"))
            before = job.read_bytes()
            if dice.random() < 0.1:
                # A good one in between: the job must go on changing under the nonsense.
                what = ("place", job, f"{dice.choice('ABCKWX')}{dice.randint(1, 48)}", "m50-rest-50")
            else:
                what = self.nonsense(dice, job, callout)
            code, answer, errors = self.run_program(*what)
            self.assertIn(code, (0, 2), (what, answer, errors))
            if code == 0:
                taken += 1
            else:
                refused += 1
                self.assertEqual(job.read_bytes(), before, what)
                self.assertEqual(answer, "", what)
                self.assertEqual(errors.count("\n"), 1, (what, errors))
        # Both kinds of answer were tried.
        self.assertGreater(refused, COUNT // 2)
        self.assertGreater(taken, 5)
        self.assertIn(self.run_program("check", job)[0], (0, 1))


if __name__ == "__main__":
    main()
