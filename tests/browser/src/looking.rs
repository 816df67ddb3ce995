//! How the page is looked at: size and colours, pictures, and what a screen reader is told.

use std::path::Path;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use serde_json::json;

use crate::folder::scratch;
use crate::{Browser, Outcome};

/// Light or dark, as the system would ask for it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scheme {
    /// `prefers-color-scheme: light`.
    Light,
    /// `prefers-color-scheme: dark`.
    Dark,
}

/// The size of the view in CSS pixels, and the colours.
#[derive(Clone, Copy, Debug)]
pub struct View {
    /// CSS pixels.
    pub width: u32,
    /// CSS pixels.
    pub height: u32,
    /// Light or dark.
    pub scheme: Scheme,
}

impl View {
    /// A desk's screen.
    pub const WIDE: View = View { width: 1440, height: 900, scheme: Scheme::Light };
    /// The same, dark.
    pub const DARK: View = View { width: 1440, height: 900, scheme: Scheme::Dark };
    /// A phone.
    pub const PHONE: View = View { width: 390, height: 844, scheme: Scheme::Light };
}

/// Roles of what is worked with.
const CONTROLS: [&str; 17] = [
    "button",
    "checkbox",
    "combobox",
    "DisclosureTriangle",
    "link",
    "listbox",
    "menuitem",
    "radio",
    "searchbox",
    "slider",
    "spinbutton",
    "switch",
    "tab",
    "textbox",
    "dialog",
    "radiogroup",
    "tablist",
];

impl Browser {
    /// Sets size and colours.
    ///
    /// **Errors** where the browser does not answer.
    pub async fn look(&self, view: View) -> Outcome<()> {
        let View { width, height, scheme } = view;
        let scheme = match scheme {
            Scheme::Light => "light",
            Scheme::Dark => "dark",
        };
        let metrics =
            json!({"width": width, "height": height, "deviceScaleFactor": 1, "mobile": width < 600});
        self.cdp("Emulation.setDeviceMetricsOverride", metrics).await?;
        let feature = json!({"name": "prefers-color-scheme", "value": scheme});
        self.cdp("Emulation.setEmulatedMedia", json!({"features": [feature]})).await?;
        Ok(())
    }

    /// Saves a picture of the view as `target/screenshots/<name>.png`.
    ///
    /// **Errors** where it cannot be written.
    pub async fn shot(&self, name: &str) -> Outcome<()> {
        let folder = scratch().with_file_name("screenshots");
        std::fs::create_dir_all(&folder)?;
        let path: &Path = &folder.join(format!("{name}.png"));
        Ok(self.driver.screenshot(path).await?)
    }

    /// Saves a picture of the first element of a selector, as far as it lies in the view, as
    /// `target/screenshots/<name>.png`.
    ///
    /// **Errors** where there is none or it cannot be written.
    pub async fn shot_of(&self, selector: &str, name: &str) -> Outcome<()> {
        let place = "const b = document.querySelector(arguments[0]).getBoundingClientRect();
            const [x, y] = [Math.max(0, b.x), Math.max(0, b.y)];
            return { x, y, width: Math.min(innerWidth, b.right) - x, height: Math.min(innerHeight, b.bottom) - y, scale: 1 };";
        let clip = self.run(place, vec![json!(selector)]).await?;
        let answer =
            self.cdp("Page.captureScreenshot", json!({"clip": clip, "optimizeForSpeed": true})).await?;
        let folder = scratch().with_file_name("screenshots");
        std::fs::create_dir_all(&folder)?;
        std::fs::write(
            folder.join(format!("{name}.png")),
            STANDARD.decode(answer["data"].as_str().unwrap_or_default())?,
        )?;
        Ok(())
    }

    /// How many controls a screen reader is told of now, and those among them that have no name.
    ///
    /// **Source** WAI-ARIA 1.2, section 5.2.8: these roles need an accessible name.
    ///
    /// **Errors** where the browser does not answer.
    pub async fn named_controls(&self) -> Outcome<(usize, Vec<String>)> {
        let tree = self.cdp("Accessibility.getFullAXTree", json!({})).await?;
        let mut controls = 0;
        let mut nameless = Vec::new();
        for node in tree["nodes"].as_array().into_iter().flatten() {
            let role = node["role"]["value"].as_str().unwrap_or_default();
            if node["ignored"] == true || !CONTROLS.contains(&role) {
                continue;
            }
            controls += 1;
            if node["name"]["value"].as_str().unwrap_or_default().trim().is_empty() {
                let id = &node["backendDOMNodeId"];
                let html = self.cdp("DOM.getOuterHTML", json!({"backendNodeId": id})).await;
                let html = html.map(|answer| answer["outerHTML"].to_string()).unwrap_or_default();
                nameless.push(format!("{role}: {}", html.chars().take(160).collect::<String>()));
            }
        }
        Ok((controls, nameless))
    }
}
