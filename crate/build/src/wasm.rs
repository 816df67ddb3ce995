//! Compiles the web crate to wasm and makes its glue.

use std::path::{Path, PathBuf};
use std::process::Command;

use wasm_bindgen_cli_support::Bindgen;

use crate::call;
use crate::wasm_std::{Route, TARGET};

/// The wasm and the script that loads it.
pub(crate) struct Wasm {
    /// wasm-bindgen's glue, target `no-modules`.
    pub(crate) glue: String,
    /// The module, without names and producers.
    pub(crate) bytes: Vec<u8>,
}

/// Builds.
///
/// **Errors** a sentence; the compiler's own messages are on the terminal by then.
pub(crate) fn build(root: &Path, route: Route, quick: bool) -> Result<Wasm, String> {
    let profile = if quick { "quick" } else { "release" };
    let folder = call::target_folder(root).join(format!("wasm-{}", route.name()));
    let mut command = match route {
        Route::Rustup => call::clean("cargo"),
        Route::Debian => debian_cargo()?,
    };
    command
        .current_dir(root)
        .args(["build", "--locked", "--profile", profile, "--target", TARGET, "-p", "wattsieve-web"])
        .env("CARGO_TARGET_DIR", &folder)
        .env("CARGO_ENCODED_RUSTFLAGS", flags(root, route).join("\u{1f}"));
    call::run("Compiling the wasm", &mut command)?;
    let file = folder.join(TARGET).join(profile).join("wattsieve_web.wasm");
    let bytes = std::fs::read(&file).map_err(|error| format!("{}: {error}.", file.display()))?;
    bind(bytes)
}

fn bind(bytes: Vec<u8>) -> Result<Wasm, String> {
    let mut bindgen = Bindgen::new();
    bindgen.input_bytes("wattsieve", bytes);
    bindgen.typescript(false).remove_name_section(true).remove_producers_section(true);
    let output = bindgen.no_modules(true).and_then(|bindgen| bindgen.generate_output());
    let mut output = output.map_err(|error| format!("wasm-bindgen refused the wasm: {error:#}."))?;
    if !output.local_modules().is_empty() || output.snippets().values().any(|texts| !texts.is_empty()) {
        return Err(
            "The web crate brings its own JavaScript files; the page has no place for them.".to_owned()
        );
    }
    Ok(Wasm { glue: output.js().to_owned(), bytes: output.wasm_mut().emit_wasm() })
}

/// Panic messages hold source paths: the builder's own folders must not reach the page, and the
/// bytes must not depend on them.
fn flags(root: &Path, route: Route) -> Vec<String> {
    let mut flags = vec!["-C".to_owned(), "target-feature=+simd128".to_owned()];
    let mut remap =
        |from: &Path, to: &str| flags.push(format!("--remap-path-prefix={}={to}", from.display()));
    if let Some(home) = cargo_home() {
        remap(&home, "cargo");
    }
    remap(root, "src");
    if route == Route::Debian {
        let std = Path::new("/usr/lib/rustlib/src/rust");
        remap(std, "std");
        if let Ok(real) = std::fs::canonicalize(std) {
            remap(&real, "std");
        }
    }
    flags
}

fn cargo_home() -> Option<PathBuf> {
    let set = std::env::var_os("CARGO_HOME").map(PathBuf::from);
    set.or_else(|| std::env::var_os("HOME").map(|home| PathBuf::from(home).join(".cargo")))
}

/// Debian's compiler has no prebuilt wasm library and no wasm linker: it builds the first from the
/// packaged sources and borrows the second from the toolchain in use.
fn debian_cargo() -> Result<Command, String> {
    let mut command = call::clean("/usr/bin/cargo");
    command
        .env_remove("LD_LIBRARY_PATH")
        .env("RUSTC", "/usr/bin/rustc")
        .env("RUSTC_BOOTSTRAP", "1")
        .env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", wasm_linker()?)
        .args(["-Z", "build-std=std,panic_abort"]);
    Ok(command)
}

fn wasm_linker() -> Result<PathBuf, String> {
    let sysroot = call::answer(call::clean("rustc").args(["--print", "sysroot"]));
    let host = call::answer(call::clean("rustc").arg("-vV"));
    let host = host.as_deref().and_then(|text| text.lines().find_map(|line| line.strip_prefix("host: ")));
    if let (Some(sysroot), Some(host)) = (sysroot, host) {
        let linker = Path::new(&sysroot).join("lib/rustlib").join(host).join("bin/rust-lld");
        if linker.is_file() {
            return Ok(linker);
        }
    }
    let packaged = ["/usr/bin/wasm-ld", "/usr/bin/wasm-ld-19"].into_iter().map(PathBuf::from);
    packaged.into_iter().find(|path| path.is_file()).ok_or_else(|| {
        "No linker for wasm was found. Type:\n  apt-get install -y --no-install-recommends lld-19".to_owned()
    })
}
