"""Takes the named tune books and the instruments out of the one package file in a folder."""

import pathlib
import sys
import zipfile

folder, books = pathlib.Path(sys.argv[1]), sys.argv[2:]
(package,) = folder.glob("*.whl")
with zipfile.ZipFile(package) as archive:
    for book in books:
        (name,) = [n for n in archive.namelist() if n.endswith("/essenFolksong/" + book)]
        (folder / book).write_bytes(archive.read(name))
    (folder / "instrument.py").write_bytes(archive.read("music21/instrument.py"))
package.unlink()
