//! Text files that nobody writes: instruments and tables of wishes with as much of one thing as a size allows.

/// What there is much of, and the file.
type Table = (&'static str, String);

const HEAD: &str = "based_on = \"violin\"\npolso = \"instrument\"\nformat = 1\n\
    [about]\nid = \"worst\"\nnames = { en = \"worst\" }\nauthor = \"nobody\"\nlicence = \"MIT\"\nnotes = \"\"\n";

/// Instruments of about `size` bytes.
pub fn instruments(size: usize) -> Vec<Table> {
    let lines = |name, head: &str, line: &dyn Fn(usize) -> String| {
        let mut text = format!("{HEAD}{head}");
        for number in 0.. {
            let line = line(number);
            if text.len() + line.len() > size {
                break;
            }
            text.push_str(&line);
        }
        (name, text)
    };
    let nested = format!("{HEAD}deep = {}1{}\n", "[".repeat(size / 3), "]".repeat(size / 3));
    let points = format!("{HEAD}[dynamics]\ncurve = [{}[1, 1]]\n", "[0, 0], ".repeat(size / 9));
    vec![
        lines("remarks", "", &|_| "# a\n".into()),
        lines("unknown fields", "", &|number| format!("a{number} = 1\n")),
        lines("unknown fields like known ones", "[vibrato]\n", &|number| {
            format!("onset_m{number} = 1\n")
        }),
        lines("unknown tables", "", &|number| format!("[b{number}]\nc = 1\n")),
        lines("the same field", "[dynamics]\n", &|_| "floor = 2\n".into()),
        lines("origins", "[origin]\n", &|number| format!("\"bow.a{number}\" = \"L: a\"\n")),
        ("nested arrays", nested),
        ("points of a curve", points),
    ]
}

/// Tables of wishes of about `size` bytes, for the take of slurred notes: one that is met by no
/// note at its last line, and one that cannot be read there.
pub fn wishes(size: usize) -> Vec<Table> {
    let line = "1.1 A3: no vibrato\n";
    let many = |last: &str| line.repeat(size / line.len() - 2) + last;
    vec![
        ("wishes for one note", many(line)),
        ("remarks among wishes", "# a\n".repeat(size / 4)),
        ("a last wish without a note", many("1.1 C1: open\n")),
    ]
}
