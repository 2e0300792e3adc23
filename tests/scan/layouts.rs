//! Scans as other programs lay them out: each is read rightly, or refused with a fix that works; none is silently wrong.
//!
//! Every layout holds the same three readings. One that is read must give exactly these; one that is refused is mended as its
//! message says, and then gives them too. The layouts are ours, after what spreadsheets, C libraries and loggers are known to
//! write (common practice, no source).

use super::plain;
use crate::fixtures::page;
use facewright::job::{Column, HeightSense, LengthUnit, Measured, XMeaning};
use facewright::scan::guess::guess_as;
use facewright::scan::reader::{Scan, read_trace};
use std::fmt::Write as _;
use std::path::Path;

const TRUTH: [(f64, f64); 3] = [(80.5, -1.25), (81.0, 0.002), (120.0, 0.25)];

const POINT: &str = "80.5;-1.25\n81;0.002\n120;0.25\n";
const COMMA: &str = "80,5;-1,25\n81;0,002\n120;0,25\n";

/// What a job says of a scan, and which trace it wants.
#[derive(Clone)]
struct Says(Measured, Option<&'static str>);

fn job() -> Says {
    Says(plain(), None)
}

impl Says {
    fn with(self, change: impl FnOnce(&mut Measured)) -> Self {
        let Self(mut measured, trace) = self;
        change(&mut measured);
        Self(measured, trace)
    }
    fn unit(self, unit: LengthUnit) -> Self {
        self.with(|m| m.unit = unit)
    }
    fn columns(self, columns: &str) -> Self {
        let column = |word: &str| match word {
            "x" => Column::X,
            "z" => Column::Z,
            "trace" => Column::Trace,
            _ => Column::Other,
        };
        self.with(|m| m.columns = columns.split(' ').map(column).collect())
    }
    fn trace(self, name: &'static str) -> Self {
        Self(self.0, Some(name))
    }
}

fn after(above: &str) -> Vec<u8> {
    [above, POINT].concat().into_bytes()
}

fn utf16(text: &str, mark: bool, bytes: fn(u16) -> [u8; 2]) -> Vec<u8> {
    mark.then_some('\u{FEFF}')
        .into_iter()
        .chain(text.chars())
        .collect::<String>()
        .encode_utf16()
        .flat_map(bytes)
        .collect()
}

/// Two traces: the readings, and others at the same radii.
fn two(between: &str) -> Vec<u8> {
    [POINT, between, "80.5;-1.1\n81;0.1\n120;0.4\n"].concat().into_bytes()
}

/// Two traces between columns that a mark parts, each below lines of its own.
fn headed(mark: &str, above: &str, between: &str) -> String {
    let file = [above, POINT, between, "80.5;-1.1\n81;0.1\n120;0.4\n"].concat();
    file.replace(';', mark)
}

/// What it is; the file; what the job says; if it is to be refused, the mended file (none: as it was) and job.
type Layout = (&'static str, Vec<u8>, Says, Option<(Option<Vec<u8>>, Says)>);

fn sound(what: &'static str, file: impl Into<Vec<u8>>, says: Says) -> Layout {
    (what, file.into(), says, None)
}

fn refused(what: &'static str, file: impl Into<Vec<u8>>, says: Says, mended: impl Into<Vec<u8>>) -> Layout {
    (what, file.into(), says.clone(), Some((Some(mended.into()), says)))
}

fn job_mended(what: &'static str, file: impl Into<Vec<u8>>, says: Says, mended: Says) -> Layout {
    (what, file.into(), says, Some((None, mended)))
}

fn layouts() -> Vec<Layout> {
    let mut all = separators();
    all.extend(encodings());
    all.extend(headers());
    all.extend(over_three_columns());
    all.extend(units());
    all.extend(other_lines());
    all.extend(like_readings());
    all.extend(traces());
    all.extend(other_files());
    all
}

fn separators() -> Vec<Layout> {
    let quoted_comma = "\"80,5\",\"-1,25\"\n\"81\",\"0,002\"\n\"120\",\"0,25\"\n";
    vec![
        sound("semicolons and points", POINT, job()),
        sound("semicolons and decimal commas", COMMA, job()),
        sound("commas", POINT.replace(';', ","), job()),
        sound("commas and blanks", POINT.replace(';', ", "), job()),
        sound("tabs and decimal commas", COMMA.replace(';', "\t"), job()),
        sound("blanks in columns", "   80.5   -1.25\n   81.0    0.002\n  120.0    0.25\n", job()),
        sound("separators at the end of each row", POINT.replace('\n', ";\n"), job()),
        sound(
            "separators at the end, in the header too",
            ["x;z;\n", &POINT.replace('\n', ";\n")].concat(),
            job(),
        ),
        sound("empty columns that a spreadsheet adds", POINT.replace('\n', ";;;\n"), job()),
        sound(
            "rows of separators alone",
            ["80.5,-1.25,,\n", ",,,\n", "81,0.002,,\n120,0.25,,\n,,,\n"].concat(),
            job(),
        ),
        sound("line ends of one carriage return", POINT.replace('\n', "\r"), job()),
        sound("plus signs, exponents, bare points", "+80.5;-125e-2\n81.;2.E-3\n1.2E2;.25\n", job()),
        sound(
            "quotes",
            POINT
                .replace(';', "\";\"")
                .replace('\n', "\"\n")
                .replace("81\"", "\"81\"")
                .replacen("80", "\"80", 1)
                .replace("120\"", "\"120\""),
            job(),
        ),
        sound("quotes round decimal commas, commas between", quoted_comma, job()),
        sound(
            "quotes round numbers with decimal commas and exponents",
            "\"8,05e1\",\"-125E-2\"\n\"8,1e+1\",\"0,2e-2\"\n\"1,2E2\",\"0,25\"\n",
            job(),
        ),
        refused(
            "quotes round numbers of three decimals, which may be thousands",
            "\"80,500\",\"-1,250\"\n\"81,000\",\"0,002\"\n\"120,000\",\"0,250\"\n",
            job(),
            POINT,
        ),
        refused(
            "decimal commas, commas between",
            COMMA.replace(';', ",").replace("81,", "81,0,").replace("120,", "120,0,"),
            job(),
            COMMA,
        ),
        refused(
            "decimal commas, commas between, decimals read over",
            "80,5,-1,25\n81,0,0,002\n120,0,0,25\n",
            job().columns("x other z other"),
            POINT.replace(';', ";0;").replace('\n', ";0\n"),
        ),
        sound(
            "quotes round decimal commas, tabs between, an empty field",
            "\"1\"\t\"80,5\"\t\"-1,25\"\n\"2\"\t\"80,7\"\t\"\"\n\"3\"\t\"81,0\"\t\"0,002\"\n\"4\"\t\"120,0\"\t\"0,25\"\n",
            job().columns("other x z"),
        ),
        job_mended(
            "tabs under headings with commas",
            "Point\tRadius , mm\tDepth , mm\n1\t80.5\t1.25\n2\t81\t-0.002\n3\t120\t-0.25\n",
            job().columns("other x z"),
            job().columns("other x z").with(|m| m.z = HeightSense::Distance),
        ),
        refused("thousands marks", "80.5;-1.25\n81;0.002\n1,200.0;0.25\n", job(), POINT),
        refused("both decimal marks", "80.5;-1,25\n81;0.002\n120;0.25\n", job(), POINT),
        refused("a unit behind each number", POINT.replace(';', " mm;").replace('\n', " mm\n"), job(), POINT),
    ]
}

fn encodings() -> Vec<Layout> {
    let headed = ["Höhe der Fläche, geprüft ±1 °\n", POINT].concat();
    let mut odd = utf16(POINT, true, u16::to_le_bytes);
    odd.pop();
    vec![
        sound("UTF-8 with a mark", ["\u{FEFF}", POINT].concat(), job()),
        sound("UTF-16, low byte first, with a mark", utf16(POINT, true, u16::to_le_bytes), job()),
        sound("UTF-16, high byte first, with a mark", utf16(POINT, true, u16::to_be_bytes), job()),
        sound("UTF-16, low byte first, no mark", utf16(POINT, false, u16::to_le_bytes), job()),
        sound("UTF-16, high byte first, no mark", utf16(POINT, false, u16::to_be_bytes), job()),
        refused("UTF-16 cut off in a character", odd, job(), POINT),
        sound(
            "single bytes of a western code page",
            headed.chars().map(|c| u8::try_from(u32::from(c)).unwrap()).collect::<Vec<_>>(),
            job(),
        ),
        sound("no-break and thin blanks", POINT.replace(';', "\u{A0}\u{2009}"), job()),
        sound("the real minus sign", POINT.replace('-', "\u{2212}"), job()),
        sound("an en dash for a minus", POINT.replace('-', "\u{2013}"), job()),
    ]
}

fn headers() -> Vec<Layout> {
    let diameters = |header: &str| [header, "161;-1.25\n162;0.002\n240;0.25\n"].concat();
    let distances = |header: &str| [header, "80.5;1.25\n81;-0.002\n120;-0.25\n"].concat();
    let micrometres = "x [µm];z [µm]\n80500;-1250\n81000;2\n120000;250\n";
    let diameter = || job().with(|m| m.x = XMeaning::Diameter);
    let distance = || job().with(|m| m.z = HeightSense::Distance);
    vec![
        sound("a header that agrees", after("Radius (mm);Height (mm)\n"), job()),
        sound(
            "a header of blanks and brackets",
            ["Radius [mm]  Height [mm]\n", &POINT.replace(';', "  ")].concat(),
            job(),
        ),
        sound("a header and a line of units", after("x;z\n[mm];[mm]\n"), job()),
        sound("a header of other words", after("position;probe\n"), job()),
        sound(
            "a quoted header with a comma",
            ["\"Radius, mm\",\"Height, mm\"\n", &POINT.replace(';', ",")].concat(),
            job(),
        ),
        job_mended(
            "columns that the header swaps",
            "z;x\n-1.25;80.5\n0.002;81\n0.25;120\n",
            job(),
            job().columns("z x"),
        ),
        job_mended(
            "columns swapped in a commented header",
            "# z x\n-1.25 80.5\n0.002 81\n0.25 120\n",
            job(),
            job().columns("z x"),
        ),
        job_mended("Ø, called a radius", diameters("Ø;z\n"), job(), diameter()),
        job_mended("Dia., called a radius", diameters("Dia. [mm];z\n"), job(), diameter()),
        job_mended("Durchmesser, called a radius", diameters("Durchmesser;Höhe\n"), job(), diameter()),
        job_mended("a radius, called a diameter", after("Radius;z\n"), diameter(), job()),
        job_mended("Depth, called a height", distances("x;Depth\n"), job(), distance()),
        job_mended("Distance, called a height", distances("x;Distance (mm)\n"), job(), distance()),
        job_mended("Height, called a distance", after("x;Height\n"), distance(), job()),
        sound("a distance along the slide, and a height", after("Distance;Height\n"), job()),
        job_mended("micrometres, called millimetres", micrometres, job(), job().unit(LengthUnit::Micrometre)),
        sound("micrometres", micrometres, job().unit(LengthUnit::Micrometre)),
        sound(
            "centimetres",
            "x (cm);z (cm)\n8.05;-0.125\n8.1;0.0002\n12;0.025\n",
            job().unit(LengthUnit::Centimetre),
        ),
        sound(
            "metres",
            "x (m);z (m)\n0.0805;-0.00125\n0.081;0.000002\n0.12;0.00025\n",
            job().unit(LengthUnit::Metre),
        ),
        job_mended(
            "centimetres, called inches",
            "x (cm);z (cm)\n8.05;-0.125\n8.1;0.0002\n12;0.025\n",
            job().unit(LengthUnit::Inch),
            job().unit(LengthUnit::Centimetre),
        ),
        job_mended(
            "radii in millimetres, heights in micrometres",
            "x [mm];z [um]\n80.5;-1250\n81;2\n120;250\n",
            job(),
            job().with(|m| m.z_unit = Some(LengthUnit::Micrometre)),
        ),
        job_mended(
            "a line that names the unit",
            "Unit: um\n80500;-1250\n81000;2\n120000;250\n",
            job(),
            job().unit(LengthUnit::Micrometre),
        ),
        job_mended(
            "a line for the unit of each column",
            "Radius unit\tmm\nHeight unit\tum\nRadius\tHeight\n80.5\t-1250\n81\t2\n120\t250\n",
            job(),
            job().with(|m| m.z_unit = Some(LengthUnit::Micrometre)),
        ),
        job_mended(
            "axes with what they hold in brackets",
            "X (diameter);Z (distance)\n161;1.25\n162;-0.002\n240;-0.25\n",
            job(),
            diameter().with(|m| m.z = HeightSense::Distance),
        ),
        sound(
            "axes with what they hold in brackets, as the job says",
            after("X (radius);Z (height)\n"),
            job(),
        ),
        sound("an axis that is a distance along the slide", after("X distance;Z height\n"), job()),
        job_mended(
            "a depth behind a column of no known name",
            ["Time;Position;Depth\n", "1;80.5;1.25\n2;81;-0.002\n3;120;-0.25\n"].concat(),
            job().columns("other x z"),
            distance().columns("other x z"),
        ),
    ]
}

/// Headings over three columns.
fn over_three_columns() -> Vec<Layout> {
    vec![
        job_mended(
            "a number sign over a column of running numbers",
            "#;D (dia) / mm;Depth / um\n1;161;1250\n2;162;-2\n3;240;-250\n",
            job().columns("other x z"),
            job().columns("other x z").with(|m| {
                m.z = HeightSense::Distance;
                m.x = XMeaning::Diameter;
                m.z_unit = Some(LengthUnit::Micrometre);
            }),
        ),
        sound(
            "the same between blanks, as the job says",
            "# Radius Height\n1 80.5 -1.25\n2 81 0.002\n3 120 0.25\n",
            job().columns("other x z"),
        ),
        job_mended(
            "columns swapped behind a column of no known name",
            "Time;Height;Radius\n1;-1.25;80.5\n2;0.002;81\n3;0.25;120\n",
            job().columns("other x z"),
            job().columns("other z x"),
        ),
    ]
}

/// Units over the columns and beside them.
fn units() -> Vec<Layout> {
    let mils = |heading: &str| {
        let rows = TRUTH.map(|(x, z)| format!("{};{}\n", x / 25.4, z / 0.0254));
        [&format!("x (in);{heading}\n"), rows.concat().as_str()].concat()
    };
    let inch = || job().unit(LengthUnit::Inch);
    let mil = || inch().with(|m| m.z_unit = Some(LengthUnit::Mil));
    vec![
        job_mended("mils over heights, called inches", mils("Height (mil)"), inch(), mil()),
        job_mended(
            "thou over heights, called micrometres",
            mils("Height (thou)"),
            inch().with(|m| m.z_unit = Some(LengthUnit::Micrometre)),
            mil(),
        ),
        sound("mils over heights", mils("Height (mil)"), mil()),
        sound("inches by their mark in brackets", mils("Height (mil)").replace("(in)", "[\"]"), mil()),
        sound(
            "inches by their mark behind a stroke",
            mils("Height / mil").replace("x (in)", "Radius / \""),
            mil(),
        ),
        sound("inches by their mark behind `in`", mils("Height in mil").replace("x (in)", "x in \""), mil()),
        sound(
            "inches by their mark, quoted",
            mils("\"Height / mil\"").replace("x (in)", "\"Radius / \"\"\""),
            mil(),
        ),
        sound(
            "inches by their mark, badly quoted",
            mils("\"Height / mil\"").replace("x (in)", "\"Radius / \"\""),
            mil(),
        ),
        job_mended(
            "inches by their mark, called millimetres",
            mils("Height [mil]").replace("x (in)", "Radius [\"]"),
            job().with(|m| m.z_unit = Some(LengthUnit::Mil)),
            mil(),
        ),
        refused(
            "a unit in brackets that is not known",
            after("Radius (mm);Height (foo)\n"),
            job(),
            after("Radius (mm);Height (mm)\n"),
        ),
        refused(
            "a unit in brackets that is none of length",
            after("Radius (mm);Height (V)\n"),
            job(),
            after("Radius (mm);Height\n"),
        ),
        refused(
            "a line of units, one of them not known",
            after("x;z\n[mm];[foo]\n"),
            job(),
            after("x;z\n[mm];[mm]\n"),
        ),
        refused(
            "a line that names a unit that is not known",
            after("Unit: foo\n"),
            job(),
            after("# Unit: foo\n"),
        ),
        job_mended(
            "heights beyond all bounds in the unit that is told",
            "80.5;-1250\n81;2\n120;250\n",
            job().with(|m| m.z_unit = Some(LengthUnit::Metre)),
            job().with(|m| m.z_unit = Some(LengthUnit::Micrometre)),
        ),
        refused("an inch header over millimetres", after("x (in);z (in)\n"), job(), POINT),
    ]
}

fn other_lines() -> Vec<Layout> {
    vec![
        sound("comments of #, ; // % and !", after("# a\n; made by hand\n// b\n% c\n! d\n"), job()),
        sound("comments between readings", POINT.replacen('\n', "\n; the lip\n% here\n", 1), job()),
        sound(
            "key: value lines above",
            after("Serial: 12 a\nPoints: 3\nSpeed [mm/s]: 5.0\nDate: 2026-03-02\n\n"),
            job(),
        ),
        sound("key; value lines above", after("Serial;A12\nPoints;3\nx;z\n"), job()),
        sound(
            "names and values that hold a known word",
            after("Operator;R. Miller\nRange;50 mm\nx;z\n"),
            job(),
        ),
        sound("the same without a header", after("Owner;M. Smith\nDepth;approx. 50 mm\n"), job()),
        sound("the same behind a comment mark", after("# Range; 50 mm\n"), job()),
        sound(
            "text of several lines above",
            after("Trace of a wheel, by hand\nat the bench\n\nx;z\n"),
            job(),
        ),
        sound(
            "key: value lines of as many fields as there are columns",
            [
                "Date: 11/26/2026 16:02\nStart: 10 mm\nRange: 10 20\nRate: 200 Hz\nLine x z\n",
                "1 80.5 -1.25\n1 81 0.002\n1 120 0.25\n",
            ]
            .concat(),
            job().columns("trace x z"),
        ),
        sound(
            "entries without a colon, of as many fields as there are columns",
            "Start;10;mm\nDate;11/26/2026;16:02\nWindow;5;80\nLine;x;z\n1;80.5;-1.25\n1;81;0.002\n1;120;0.25\n",
            job().columns("other x z"),
        ),
        refused(
            "a first reading under a name, misspelt",
            "b;80.5;-1.2S\nb;81;0.002\nb;120;0.25\n",
            job().columns("trace x z"),
            "b;80.5;-1.25\nb;81;0.002\nb;120;0.25\n",
        ),
        sound(
            "readings under a name with a colon",
            "b: c;80.5;-1.25\nb: c;81;0.002\nb: c;120;0.25\n",
            job().columns("trace x z"),
        ),
        sound("a footer", [POINT, "End of file\nMax: 0.25\n"].concat(), job()),
        sound(
            "a summary below, of other separators",
            [POINT, "Mean 1.2 0.4\nMax\t142\t0.6\n"].concat(),
            job(),
        ),
        sound(
            "a summary below readings between blanks, of semicolons",
            [&POINT.replace(';', " "), "Average;142.0;-0.5\nStd dev: 0.012\n\nEOF\n"].concat(),
            job(),
        ),
        sound(
            "a summary of two numbers below readings between blanks",
            [&POINT.replace(';', "  "), "Mean 1.2 0.4\n"].concat(),
            job(),
        ),
        sound(
            "keys with a number each below two columns between blanks",
            [&POINT.replace(';', " "), "Points: 912\nMin: -0.5\nMax: 0.6\n"].concat(),
            job(),
        ),
        refused("last readings under one key", [POINT, "r: 121;0.3\nr: 122;0.4\n"].concat(), job(), POINT),
        sound("a comment mark before another", after("; # by hand\nx;z\n; #\tx\tz\n"), job()),
        sound("a footer of numbers among words", [POINT, "Max 0.25 at 120 mm\nMean: 0,25\n"].concat(), job()),
        refused(
            "last readings with semicolons in a file of commas",
            [&POINT.replace(';', ","), "121;0.3\n122;0.4\n"].concat(),
            job(),
            POINT.replace(';', ","),
        ),
        refused(
            "last readings with blanks in a file of commas",
            [&POINT.replace(';', ","), "121 0.3\n122 0.4\n"].concat(),
            job(),
            POINT.replace(';', ","),
        ),
        refused(
            "last readings with a name before them",
            [POINT, "b;121;0.3\nb;122;0.4\n"].concat(),
            job(),
            POINT,
        ),
        refused(
            "first readings with a time before them",
            after("12:00:01;79;0\n12:00:02;80;0\n"),
            job(),
            POINT,
        ),
        sound("the header again below", ["x;z\n80.5;-1.25\n", "x;z\n81;0.002\n120;0.25\n"].concat(), job()),
    ]
}

/// Lines that look like readings, and readings that look like other lines.
fn like_readings() -> Vec<Layout> {
    let numbered = |above: &str| [above, "1 80.5 -1.25\n2 81 0.002\n3 120 0.25\n"].concat();
    let filled = |gap: &str| ["80.5;-1.25\n", "80.8;", gap, "\n81;0.002\n120;0.25\n"].concat();
    vec![
        sound("a ruler of dashes above, and under the headings", after("--------\nx;z\n---;---\n"), job()),
        sound("words between stars above", after("*** readings ***\n"), job()),
        sound("a range above as many columns", numbered("Range: 10 20\n"), job().columns("other x z")),
        sound(
            "one key twice above as many columns",
            numbered("Range: 10 20\n\nRange: 30 40\n"),
            job().columns("other x z"),
        ),
        sound(
            "a size above as many columns",
            "Wheel 18 x 8\n1 80.5 -1.25 7\n2 81 0.002 7\n3 120 0.25 7\n",
            job().columns("other x z other"),
        ),
        sound(
            "a first column without a heading or a value",
            ";Radius;Height\n;80.5;-1.25\n;81;0.002\n;120;0.25\n",
            job().columns("other x z"),
        ),
        sound(
            "#N/A first in a line, and read over",
            "-1.25;80.5;7\n#N/A;80.7;7\n0.002;81;#N/A\n0.25;120;7\n",
            job().columns("z x other"),
        ),
        sound("#N/A between blanks", filled("#N/A").replace(';', " "), job()),
        refused("a date of three numbers above", after("2026;3\nx;z\n"), job(), after("# 2026;3\nx;z\n")),
        refused("a last line cut off", [POINT, "121"].concat(), job(), POINT),
        sound("1.#QNAN", filled("1.#QNAN"), job()),
        sound("-1.#IND00", filled("-1.#IND00"), job()),
        sound("-nan(ind)", filled("-nan(ind)"), job()),
        sound("#N/A", filled("#N/A"), job()),
        sound("no data", filled("no data"), job()),
        sound("No signal, quoted", filled("\"No signal\""), job()),
        sound(
            "a first height that is missing, between blanks, before decimal commas",
            "80,2 NaN\n80,5 -1,25\n81 0,002\n120 0,25\n",
            job(),
        ),
        sound(
            "the same with the heights first",
            "NaN 80,2\n-1,25 80,5\n0,002 81\n0,25 120\n",
            job().columns("z x"),
        ),
        sound(
            "a first column without a heading or a value, before tabs",
            "\tRadius (mm)\tHeight (mm)\n\t80.5\t-1.25\n\t81\t0.002\n\t120\t0.25\n",
            job().columns("other x z"),
        ),
        sound(
            "the same without headings",
            "\t80.5\t-1.25\n\t81\t0.002\n\t120\t0.25\n",
            job().columns("other x z"),
        ),
        sound(
            "a first height that is missing, in words, before tabs and decimal commas",
            "80,2\tno data\n80,5\t-1,25\n81\t0,002\n120\t0,25\n",
            job(),
        ),
        sound(
            "a row of units with dashes, longer than the readings",
            "Angle;x;z;\n-;mm;mm;-\n0;80.5;-1.25;\n0;81;0.002;\n0;120;0.25;\n",
            job().columns("trace x z"),
        ),
        sound(
            "a last column with a heading and without a value",
            "Line,Radius / mm,Height / mm,note\n1,80.5,-1.25,\n1,81,0.002,\n1,120,0.25,\n",
            job().columns("other x z other"),
        ),
        sound("#DIV/0!", filled("#DIV/0!"), job()),
        sound("over", filled("OVER"), job()),
        sound("***", filled("***"), job()),
        sound("a stray 0,0 first", ["0,0\n", &POINT.replace(';', ",")].concat(), job()),
        sound("a stray 0,0 last", [&POINT.replace(';', ","), "0,0\n"].concat(), job()),
        refused("a reading of three fields among two", POINT.replacen('\n', ";7\n", 1), job(), POINT),
    ]
}

fn traces() -> Vec<Layout> {
    let angles = "0;80.5;-1.25\n0;81;0.002\n0;120;0.25\n120;80.5;-1.1\n120;81;0.1\n120;120;0.4\n";
    vec![
        job_mended("two traces, an empty line between", two("\n"), job(), job().trace("1")),
        job_mended(
            "two traces, the header between",
            [b"x;z\n".to_vec(), two("x;z\n")].concat(),
            job(),
            job().trace("1"),
        ),
        job_mended(
            "two traces, each below headings of its own",
            headed(
                "\t",
                "Trace\tS1\nAngle\t0\nDate\t2026-03-01\n",
                "Trace\tS2\nAngle\t120\nDate\t2026-03-02\n",
            ),
            job(),
            job().trace("S1"),
        ),
        job_mended(
            "the same, with a line below each, an empty one between, and named by numbers in another order",
            headed(";", "Trace: 7\nRadius;Height\n", "End of trace\n\nTrace: 1\nRadius;Height\n"),
            job(),
            job().trace("7"),
        ),
        job_mended(
            "headings of as many numbers as a reading, before each trace",
            ["80", "81", "120"].iter().fold(headed(";", "Range;10;20\n", "Range;10;20\n"), |file, x| {
                file.replace(&format!("\n{x}"), &format!("\n1;{x}"))
            }),
            job().columns("other x z"),
            job().columns("other x z").trace("1"),
        ),
        job_mended(
            "comments that state an angle, between two traces",
            headed(";", "# at 0 degrees\n", "# at 120 degrees\n"),
            job(),
            job().trace("1"),
        ),
        job_mended("a trace that is not there", two("\n"), job().trace("3"), job().trace("1")),
        job_mended(
            "two traces by a column",
            angles,
            job().columns("trace x z"),
            job().columns("trace x z").trace("0.0"),
        ),
        job_mended(
            "two traces by a column that is read over",
            angles,
            job().columns("other x z"),
            job().columns("trace x z").trace("0"),
        ),
        sound("an empty line after every reading", POINT.replace('\n', "\n\n"), job()),
    ]
}

fn other_files() -> Vec<Layout> {
    vec![
        refused("a spreadsheet", b"PK\x03\x04 sheet".to_vec(), job(), POINT),
        refused("an older spreadsheet", b"\xD0\xCF\x11\xE0\xA1\xB1 sheet".to_vec(), job(), POINT),
        refused("JSON", "[[80.5, -1.25], [81, 0.002]]", job(), POINT),
        refused("JSON of names", "{ \"x\": [80.5] }", job(), POINT),
        refused("XML", "<?xml version=\"1.0\"?><a/>", job(), POINT),
        refused("text in UTF-32", b"\xFF\xFE\x00\x008\x00\x00\x00".to_vec(), job(), POINT),
    ]
}

fn reading(file: &[u8], Says(measured, trace): &Says) -> Result<Scan, facewright::diagnostics::InputError> {
    read_trace(file, Path::new("scan.csv"), measured, *trace)
}

/// Whether a scan holds the three readings: to the bit but for the last digit of a unit's factor.
fn is_truth(scan: &Scan) -> bool {
    scan.points.len() == TRUTH.len()
        && scan.points.iter().zip(TRUTH).all(|(p, (x, z))| (p.x - x).abs() < 1e-12 && (p.z - z).abs() < 1e-12)
}

#[test]
fn every_layout_is_read_rightly_or_refused_with_a_fix_that_works() {
    let mut all = String::new();
    for (what, file, says, mended) in layouts() {
        match (reading(&file, &says), mended) {
            (Ok(scan), None) => {
                assert!(is_truth(&scan), "{what}: {scan:?}");
                let gone = scan.missing.len();
                let note = if gone > 0 { format!(", {gone} drop-out(s)") } else { String::new() };
                let _ = writeln!(all, "read     {what}{note}");
            }
            (Err(fault), Some((text, says))) => {
                let _ = writeln!(
                    all,
                    "refused  {what}\n         {}",
                    fault.to_string().replace('\n', "\n         ")
                );
                let again = reading(text.as_deref().unwrap_or(&file), &says);
                assert!(again.as_ref().is_ok_and(is_truth), "{what}: {again:?}");
            }
            (other, _) => panic!("{what}: {other:?}"),
        }
    }
    assert!(layouts().len() >= 40);
    insta::assert_snapshot!(all);
}

/// A refusal names its line, but where the file is no text of columns at all.
#[test]
fn every_refusal_names_its_line() {
    let no_text: Vec<&str> = other_files().iter().map(|layout| layout.0).collect();
    for (what, file, says, _) in layouts() {
        if let Err(fault) = reading(&file, &says) {
            assert_eq!(fault.line > 0, !no_text.contains(&what), "{what}: {fault}");
        }
    }
}

/// A job that is wrong in several keys is told all that the headings ask for at once, also where the columns are counted wrong; mended so,
/// it reads the scan.
#[test]
fn all_that_the_headings_ask_for_is_told_at_once() {
    let three = "Dia. [cm];Distance [cm]\n16.1;0.125\n16.2;-0.0002\n24;-0.025\n";
    let columns = "Time;Depth [um];Dia. [cm]\n1;1250;16.1\n2;-2;16.2\n3;-250;24\n";
    for (file, keys) in [
        (three, &["x: diameter", "unit: cm", "z: distance"][..]),
        (columns, &["columns: [other, z, x]", "x: diameter", "unit: cm", "z_unit: um", "z: distance"]),
    ] {
        let fault = reading(file.as_bytes(), &job()).expect_err("the job is wrong");
        for key in keys {
            assert!(fault.fix.contains(&format!("`{key}`")), "{key}: {fault}");
        }
        let mended = job().unit(LengthUnit::Centimetre).with(|m| {
            m.x = XMeaning::Diameter;
            m.z = HeightSense::Distance;
        });
        let mended = if keys.len() > 3 {
            mended.columns("other z x").with(|m| m.z_unit = Some(LengthUnit::Micrometre))
        } else {
            mended
        };
        assert!(reading(file.as_bytes(), &mended).as_ref().is_ok_and(is_truth), "{keys:?}");
    }
}

/// The table of layouts in docs/scans.md is what the reader makes of each; `DOCS_UPDATE=1` writes it anew.
#[test]
fn the_page_of_scans_has_every_layout() {
    let mut now = String::from("| layout | what becomes of it |\n|---|---|\n");
    let (mut read, mut refused) = (0, 0);
    for (what, file, says, _) in layouts() {
        let verdict = match reading(&file, &says) {
            Ok(scan) => {
                read += 1;
                match scan.missing.len() {
                    0 => "read".to_owned(),
                    1 => "read, with a drop-out".to_owned(),
                    gone => format!("read, with {gone} drop-outs"),
                }
            }
            Err(fault) => {
                refused += 1;
                format!("refused: {}", fault.fix)
            }
        };
        let cell = |text: &str| text.replace('|', "\\|").replace('<', "&lt;");
        let _ = writeln!(now, "| {} | {} |", cell(what), cell(&verdict));
    }
    let _ = writeln!(
        now,
        "\n{} layouts: {read} read, {refused} refused with a fix that works, none read wrongly.",
        read + refused
    );
    page::holds("docs/scans.md", ["layouts", "end of layouts"], &now);
}

/// What is guessed of a layout is what reads it: of every layout that is read, the guess takes the same lines for readings, and says
/// nothing else than the job that reads it.
#[test]
fn a_guess_never_contradicts_the_job_that_reads_the_file() {
    let (mut columns, mut all) = (0, 0);
    for (what, file, Says(job, trace), _) in layouts().into_iter().filter(|l| l.3.is_none()) {
        let guessed = |told| match guess_as(&file, Path::new("scan.csv"), told) {
            Ok(guess) => guess,
            Err(fault) => panic!("{what}: {fault}"),
        };
        let guess = guessed(None);
        let places =
            |columns: &[Column]| [Column::X, Column::Z].map(|c| columns.iter().position(|&o| o == c));
        let agrees = guess.columns.as_ref().is_none_or(|(c, _)| places(c) == places(&job.columns))
            && guess.x.as_ref().is_none_or(|(x, _)| *x == job.x)
            && guess.z.as_ref().is_none_or(|(z, _)| *z == job.z)
            && guess.unit.as_ref().is_none_or(|(u, _)| *u == job.unit)
            && guess.z_unit.as_ref().is_none_or(|(u, _)| Some(*u) == job.z_unit);
        assert!(agrees, "{what}: {guess:?}");
        columns += usize::from(guess.columns.is_some());
        all += 1;
        // Stray zeros are readings until the whole scan is seen.
        if trace.is_some() || what.starts_with("a stray") {
            continue;
        }
        let half = if job.x == XMeaning::Diameter { 0.5 } else { 1.0 };
        let [least, most, _] = guessed(Some(&job.columns)).reach.unwrap_or_else(|| panic!("{what}"));
        for (x, truth) in [(least, 80.5), (most, 120.0)] {
            assert!((x * half * job.unit.as_mm() - truth).abs() < 1e-9, "{what}: {x} for {truth}");
        }
    }
    assert!(all >= 60 && 4 * columns >= 3 * all, "{columns} of {all}");
}
