//! x
#![allow(clippy::print_stdout)]
use hitchwork_rules::*;
fn main() {
    let rules = Rules::new();
    let t = std::time::Instant::now();
    let rule = rules.built_in("drift").unwrap();
    println!("{:?}", t.elapsed());
    for n in [4, 5, 10, 40] {
        let made = rules.make(&rule, &Settings::new().set("threads", n));
        match made { Ok(m) => { let r = hitchwork_core::proof::Report::of(&m.band); println!("{n}: {} {:?} {:?} {:?} {:?}", m.band.title(), r.drift, r.half_rows_per_repeat, r.findings, r.edges.start.shape) } Err(e) => println!("{}", e.render(false)) }
    }
    println!("{:?}", t.elapsed());
    println!("{}\n{:#?}", rule.sentence(), rules.parameters(&rule, &Settings::new()));
    let m = rules.make(&rule, &Settings::new()).unwrap();
    println!("{}", hitchwork_core::file::write(&m.band));
    for s in [Settings::new().set("thread", 3), Settings::new().set("threads", 3), Settings::new().set("turns", "x"), Settings::new().palette("gul")] {
        println!("{}\n", rules.make(&rule, &s).unwrap_err().render(false));
    }
    for text in [
        "band(4).repeat(forwrd(1..4))", "let a = 3;\nband(4).repeat(forward(\"x\"))", "band(4).repeat(forward(1..5))", "band(4).repeat(forward(0))",
        "let thread = 4;", "band(4).repeat(forward(1..4)).drift(gradient(\"gul\", 4))", "loop { }", "fn f(n) { f(n + 1) } f(1)", "let s = \"a\"; loop { s += s; }", "let s = [1]; loop { s += s; }",
        "band(4).repeat(forward(1..4);", "let r = forward(1..4);\nlet x = r.butt(r);\nband(4).repeat(x)", "band(10000)", "fn edge(n) {\n  forward(n - 9)\n}\nlet r = edge(4);\nband(4).repeat(r)", "band(4)", "let b = band(4);", "1 / 0", "print(3)", "sleep(3)", "import \"x\" as y;", "let r = lattice(6, 4, |row, column| 3); band(6).repeat(r)", "band(5).repeat([forward(1..5), []])", "band(4).repeat(forward([1,3])).drift(gradient(\"gull\", 4))", "fn f(x) { LEFT } band(4).repeat(forward(1..4)).starts(half_triangle(f(1)))", "whole(\"a\", 3, 4..=10, \"x\")","let a = [1,2]; a[7]", "let m = #{a: 1}; m.b", "throw \"no\"", "forward(1..3) + 3", "timestamp()", "forward(1)(", "let x = 5; x.foo()", "let x = 1; x.y = 3;", "band(4).repeat(forward(1..4)).drift(3)", "2 ** 3", "require(1 > 2, \"it is so\", \"do so\")",
    ] {
        println!("-------- {text}");
        match rules.compile("try", text) { Err(e) => println!("{}", e.render(false)), Ok(r) => match rules.make(&r, &Settings::new()) { Ok(m) => println!("OK {:?}", m.band.start()), Err(e) => println!("{}", e.render(false)) } }
    }
}
