"""Runs the program as a person would. Every test file takes PROGRAM SAMPLES_DIR RESOURCES_DIR as its arguments."""
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

import jsonschema

PROGRAM, SAMPLES, RESOURCES = (Path(argument).resolve() for argument in sys.argv[1:4])
REBUILD = Path(__file__).resolve().parent.parent / "samples" / "rebuild.py"
# Words of the code and of C++ that no fitter should meet, and sentence keys such as cli.no_piece.
NO_WORD = re.compile(r"\b(seats?|hosts?|poses?|rank|locators?|std|INT|TEXT|FLOAT|UINT|nullptr|exception)\b|\b[a-z]+\.[a-z]+_[a-z_]+\b")


class ProgramTest(unittest.TestCase):
    """A folder of its own for each test; `run_program` gives (exit code, answer, remarks and errors)."""

    def setUp(self):
        self.folder = Path(tempfile.mkdtemp(prefix="setwright-test-"))
        self.addCleanup(shutil.rmtree, self.folder, ignore_errors=True)

    def run_program(self, *arguments, environment=None, prefix=(), **how):
        how.setdefault("stdout", subprocess.PIPE)
        done = subprocess.run([*prefix, PROGRAM, *map(str, arguments)], stderr=subprocess.PIPE, stdin=subprocess.DEVNULL,
                              env={**os.environ, "SETWRIGHT_RESOURCES": str(RESOURCES), **(environment or {})},
                              cwd=self.folder, timeout=300, check=False, **how)
        answer = done.stdout.decode() if done.stdout is not None else ""
        return done.returncode, answer, done.stderr.decode(errors="replace")

    def good(self, *arguments, **how):
        """The answer of a command that must succeed."""
        code, answer, remarks = self.run_program(*arguments, **how)
        self.assertEqual(code, 0, f"{arguments}: {answer[-2000:]}{remarks}")
        return answer

    def assert_one_sentence(self, text):
        lines = text.splitlines()
        self.assertEqual(len(lines), 1, text)
        self.assertRegex(lines[0], r"^\S.*\w.*\.$")
        self.assertIsNone(NO_WORD.search(re.sub(r'"[^"]*"|\S*/\S*', "", lines[0])), text)

    def refused(self, *arguments, code=2, says="", **how):
        """Nothing on standard output, one sentence on standard error; no file of the test's folder is touched."""
        before = self.contents()
        given, answer, errors = self.run_program(*arguments, **how)
        self.assertEqual(given, code, f"{arguments}: {answer}{errors}")
        self.assertEqual(answer, "", arguments)
        self.assert_one_sentence(errors)
        self.assertIn(says, errors)
        self.assertEqual(self.contents(), before, arguments)
        return errors

    def contents(self):
        return {path: path.read_bytes() if os.access(path, os.R_OK) else None
                for path in self.folder.rglob("*") if path.is_file()}

    def sample_job(self, name="D1", to="job.setwright"):
        return Path(shutil.copy(SAMPLES / f"{name}.setwright", self.folder / to))

    def check_json(self, job, code=0):
        given, answer, errors = self.run_program("check", job, "--json")
        self.assertEqual(given, code, answer[-1500:] + errors)
        return json.loads(answer)


def schema(name):
    with open(RESOURCES / "schema" / f"{name}.schema.json", encoding="utf-8") as file:
        document = json.load(file)
    jsonschema.Draft202012Validator.check_schema(document)
    return jsonschema.Draft202012Validator(document)


def rebuild(answer, folder):
    """Exit status and lines of rebuild.py for the answer of `check --json`."""
    path = Path(folder) / "check.json"
    path.write_text(answer if isinstance(answer, str) else json.dumps(answer, ensure_ascii=False), encoding="utf-8")
    done = subprocess.run([sys.executable, REBUILD, path], capture_output=True, text=True, check=False)
    return done.returncode, done.stdout + done.stderr


def main():
    unittest.main(argv=[sys.argv[0], *sys.argv[4:]])
