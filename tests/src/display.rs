//! A screen for the editor: an X server without a monitor, one for each test
//! program, and pictures of what is on it.

use std::io::Read;
use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use anyhow::{Context, Result, bail};
use x11rb::COPY_DEPTH_FROM_PARENT;
use x11rb::connection::Connection;
use x11rb::protocol::xproto::{
    ConfigureWindowAux, ConnectionExt, CreateWindowAux, ImageFormat, ImageOrder, WindowClass,
};
use x11rb::rust_connection::RustConnection;

/// A connection to the X server.
#[derive(Clone)]
pub struct Display {
    pub(crate) connection: Arc<RustConnection>,
    pub(crate) screen: usize,
}

/// A window made by the host, to put an editor into. Dropping it destroys it.
pub struct Window {
    display: Display,
    id: u32,
}

/// What a window shows: red, green and blue of each pixel, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Pixels in a row.
    pub width: u32,
    /// Rows.
    pub height: u32,
    /// Three bytes a pixel.
    pub rgb: Vec<u8>,
}

/// How long a server may take to start, and a window to be drawn.
const PATIENCE: Duration = Duration::from_secs(30);

static DISPLAY: OnceLock<Display> = OnceLock::new();
static STARTING: Mutex<()> = Mutex::new(());

impl Display {
    /// This program's own X server; started at the first call, which sets
    /// `DISPLAY` for the whole program. It ends with the program.
    ///
    /// Call it first in each test of a program that uses it.
    ///
    /// # Errors
    /// If Xvfb is not installed or does not start.
    pub fn private() -> Result<Display> {
        let _starting = STARTING.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(display) = DISPLAY.get() {
            return Ok(display.clone());
        }
        // `-terminate`: ends when its last client has gone, so at the latest
        // when this program ends. Number 1 is standard output.
        let mut server = Command::new("Xvfb")
            .args(["-displayfd", "1", "-terminate", "-nolisten", "tcp"])
            .args(["-screen", "0", "1600x1200x24", "+extension", "GLX"])
            .stdin(Stdio::null())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .context("cannot start Xvfb; `cargo xtask test` says what to install")?;
        let mut number = String::new();
        let mut output = server.stdout.take().context("no output")?;
        let mut byte = [0];
        while !number.ends_with('\n') && output.read(&mut byte)? == 1 {
            number.push(char::from(byte[0]));
        }
        let name = format!(":{}", number.trim());
        let (connection, screen) =
            x11rb::connect(Some(&name)).with_context(|| format!("no X server at '{name}'"))?;
        // The server is left to end by itself.
        drop(server);
        // SAFETY: every test of a program that uses a display calls this
        // first, so no other thread reads the environment meanwhile.
        unsafe { std::env::set_var("DISPLAY", &name) };
        let display = Display {
            connection: Arc::new(connection),
            screen,
        };
        Ok(DISPLAY.get_or_init(|| display).clone())
    }

    /// A visible window.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn window(&self, width: u32, height: u32) -> Result<Window> {
        let c = &self.connection;
        let root = c.setup().roots[self.screen].root;
        let id = c.generate_id()?;
        let size = |pixels: u32| u16::try_from(pixels).context("too large for X11");
        let (width, height) = (size(width)?, size(height)?);
        c.create_window(
            COPY_DEPTH_FROM_PARENT,
            id,
            root,
            0,
            0,
            width,
            height,
            0,
            WindowClass::INPUT_OUTPUT,
            0,
            &CreateWindowAux::new(),
        )?
        .check()?;
        c.map_window(id)?.check()?;
        Ok(Window {
            display: self.clone(),
            id,
        })
    }
}

impl Window {
    /// The server's number for it.
    pub fn id(&self) -> u32 {
        self.id
    }

    /// Gives it another size, in pixels.
    ///
    /// # Errors
    /// If the server refuses.
    pub fn resize(&self, width: u32, height: u32) -> Result<()> {
        let size = ConfigureWindowAux::new().width(width).height(height);
        let c = &self.display.connection;
        Ok(c.configure_window(self.id, &size)?.check()?)
    }

    /// What it shows now, what lies in it included.
    ///
    /// # Errors
    /// If the server refuses or its pixels are not of 24 bits.
    pub fn picture(&self) -> Result<Picture> {
        let c = &self.display.connection;
        let place = c.get_geometry(self.id)?.reply()?;
        let image = c
            .get_image(
                ImageFormat::Z_PIXMAP,
                self.id,
                0,
                0,
                place.width,
                place.height,
                u32::MAX,
            )?
            .reply()?;
        if image.depth != 24 || c.setup().image_byte_order != ImageOrder::LSB_FIRST {
            bail!("a picture of depth {}", image.depth);
        }
        // Four bytes a pixel: blue, green, red, nothing.
        let rgb = image
            .data
            .chunks_exact(4)
            .flat_map(|pixel| [pixel[2], pixel[1], pixel[0]])
            .collect();
        Ok(Picture {
            width: place.width.into(),
            height: place.height.into(),
            rgb,
        })
    }

    /// Waits until something is drawn, calling `meanwhile` over and over, and
    /// returns what it is.
    ///
    /// # Errors
    /// If nothing is drawn in half a minute.
    pub fn drawn(&self, mut meanwhile: impl FnMut() -> Result<()>) -> Result<Picture> {
        let start = Instant::now();
        loop {
            meanwhile()?;
            let picture = self.picture()?;
            if picture.colours() >= 8 {
                return Ok(picture);
            }
            if start.elapsed() > PATIENCE {
                bail!("the editor stays empty");
            }
        }
    }
}

impl Drop for Window {
    fn drop(&mut self) {
        // A window that has gone already needs no destroying.
        if let Ok(cookie) = self.display.connection.destroy_window(self.id) {
            let _ = cookie.check();
        }
    }
}

impl Picture {
    /// How many colours are in it.
    pub fn colours(&self) -> usize {
        let mut colours: Vec<&[u8]> = self.rgb.chunks_exact(3).collect();
        colours.sort_unstable();
        colours.dedup();
        colours.len()
    }

    /// Writes it as PNG.
    ///
    /// # Errors
    /// If the file cannot be written.
    pub fn write_png(&self, path: &Path) -> Result<()> {
        let file = std::fs::File::create(path)
            .with_context(|| format!("cannot write {}", path.display()))?;
        let mut encoder = png::Encoder::new(std::io::BufWriter::new(file), self.width, self.height);
        encoder.set_color(png::ColorType::Rgb);
        encoder.set_depth(png::BitDepth::Eight);
        let mut writer = encoder.write_header()?;
        writer.write_image_data(&self.rgb)?;
        Ok(writer.finish()?)
    }
}
