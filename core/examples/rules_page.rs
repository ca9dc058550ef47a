//! Prints `docs/rules.md` from the rules in the code.

fn main() {
    print!(
        "{}",
        scupper_core::trade::rules_page(scupper_core::trade::Profile::builtin())
    );
}
