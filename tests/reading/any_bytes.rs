//! The kept inputs of the fuzz target, as a plain test.

#[path = "../fuzz/check.rs"]
mod check;

#[test]
fn kept_inputs_of_the_fuzzer_read_alike_in_any_pieces() {
    let folder = format!("{}/fuzz/corpus/read_log", env!("CARGO_MANIFEST_DIR"));
    let mut paths: Vec<_> = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()).collect();
    paths.sort();
    assert!(paths.len() >= 40, "only {} inputs", paths.len());
    for path in paths {
        eprintln!("{}", path.display());
        check::check(&std::fs::read(&path).unwrap());
    }
}
