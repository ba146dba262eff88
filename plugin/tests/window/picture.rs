//! Pictures of the window, without a screen.
//!
//! In: the triangles that a frame is made of, and the textures on them. Out:
//! pixels, and a PNG file of them. Painted by the processor, the same on every
//! machine. Never here: what is in the picture.

use std::cell::RefCell;
use std::collections::HashMap;
use std::io;
use std::path::Path;
use std::rc::Rc;

use egui::epaint::{ImageData, ImageDelta, Mesh, Primitive, Vertex};
use egui::{Color32, Context, FullOutput, TextureFilter, TextureId, TexturesDelta};
use egui_kittest::TestRenderer;

/// The textures of a window, kept up to date by [`Keeper`].
#[derive(Clone, Default)]
pub struct Textures(Rc<RefCell<Kept>>);

#[derive(Default)]
struct Kept {
    images: HashMap<TextureId, Image>,
    /// No longer wanted after the frame that is shown.
    leaving: Vec<TextureId>,
}

struct Image {
    width: usize,
    height: usize,
    dots: Vec<Color32>,
    smooth: bool,
}

/// What the window's driver hands its textures to.
pub struct Keeper(Textures);

/// A picture: red, green, blue and opacity of each pixel, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Pixels in a row.
    pub width: usize,
    /// Rows.
    pub height: usize,
    /// Four bytes a pixel.
    pub rgba: Vec<u8>,
}

impl Textures {
    /// What keeps them up to date.
    pub fn keeper(&self) -> Keeper {
        Keeper(self.clone())
    }

    /// Paints a frame.
    pub fn paint(&self, ctx: &Context, output: &FullOutput) -> Picture {
        let scale = ctx.pixels_per_point();
        let size = ctx.content_rect().size() * scale;
        let mut canvas = Canvas {
            width: size.x.round() as usize,
            height: size.y.round() as usize,
            dots: Vec::new(),
        };
        canvas.dots = vec![[0.0, 0.0, 0.0, 255.0]; canvas.width * canvas.height];
        let kept = self.0.borrow();
        for clipped in ctx.tessellate(output.shapes.clone(), scale) {
            let Primitive::Mesh(mesh) = &clipped.primitive else {
                continue;
            };
            let clip = clipped.clip_rect * scale;
            let edge = |x: f32, most: usize| (x.round().max(0.0) as usize).min(most);
            let clip = Clip {
                left: edge(clip.left(), canvas.width),
                right: edge(clip.right(), canvas.width),
                top: edge(clip.top(), canvas.height),
                bottom: edge(clip.bottom(), canvas.height),
            };
            if let Some(image) = kept.images.get(&mesh.texture_id) {
                canvas.mesh(mesh, image, clip, scale);
            }
        }
        let byte = |x: f32| (x + 0.5).clamp(0.0, 255.0) as u8;
        Picture {
            width: canvas.width,
            height: canvas.height,
            rgba: canvas.dots.iter().flatten().map(|x| byte(*x)).collect(),
        }
    }
}

impl TestRenderer for Keeper {
    fn handle_delta(&mut self, delta: &mut TexturesDelta) {
        let mut kept = self.0.0.borrow_mut();
        for id in std::mem::take(&mut kept.leaving) {
            kept.images.remove(&id);
        }
        for (id, deltas) in delta.set.drain() {
            for delta in deltas {
                kept.take(id, &delta);
            }
        }
        kept.leaving.extend(delta.free.drain());
    }
}

impl Kept {
    fn take(&mut self, id: TextureId, delta: &ImageDelta) {
        let ImageData::Color(new) = &delta.image;
        let [width, height] = new.size;
        let Some([x, y]) = delta.pos else {
            let image = Image {
                width,
                height,
                dots: new.pixels.clone(),
                smooth: delta.options.magnification == TextureFilter::Linear,
            };
            self.images.insert(id, image);
            return;
        };
        let Some(image) = self.images.get_mut(&id) else {
            return;
        };
        for (row, dots) in new.pixels.chunks_exact(width).enumerate() {
            let from = (y + row) * image.width + x;
            image.dots[from..from + width].copy_from_slice(dots);
        }
    }
}

impl Image {
    fn dot(&self, x: i64, y: i64) -> [f32; 4] {
        let x = x.clamp(0, self.width as i64 - 1) as usize;
        let y = y.clamp(0, self.height as i64 - 1) as usize;
        self.dots[y * self.width + x].to_array().map(f32::from)
    }

    /// The colour at a place of the unit square.
    fn at(&self, u: f32, v: f32) -> [f32; 4] {
        let (x, y) = (u * self.width as f32, v * self.height as f32);
        if !self.smooth {
            return self.dot(x.floor() as i64, y.floor() as i64);
        }
        let (x, y) = (x - 0.5, y - 0.5);
        let (left, top) = (x.floor(), y.floor());
        let (across, down) = (x - left, y - top);
        let (left, top) = (left as i64, top as i64);
        let mix = |a: [f32; 4], b: [f32; 4], share: f32| {
            std::array::from_fn(|i| a[i] + (b[i] - a[i]) * share)
        };
        let above = mix(self.dot(left, top), self.dot(left + 1, top), across);
        let below = mix(self.dot(left, top + 1), self.dot(left + 1, top + 1), across);
        mix(above, below, down)
    }
}

#[derive(Clone, Copy)]
struct Clip {
    left: usize,
    right: usize,
    top: usize,
    bottom: usize,
}

struct Canvas {
    width: usize,
    height: usize,
    dots: Vec<[f32; 4]>,
}

impl Canvas {
    fn mesh(&mut self, mesh: &Mesh, image: &Image, clip: Clip, scale: f32) {
        for corners in mesh.indices.chunks_exact(3) {
            let corner = |i: usize| mesh.vertices[corners[i] as usize];
            self.triangle([corner(0), corner(1), corner(2)], image, clip, scale);
        }
    }

    /// Paints the pixels whose middle lies in the triangle; a middle on an edge
    /// that two triangles share belongs to one of them.
    fn triangle(&mut self, mut v: [Vertex; 3], image: &Image, clip: Clip, scale: f32) {
        for vertex in &mut v {
            vertex.pos = (vertex.pos.to_vec2() * scale).to_pos2();
        }
        let cross = |a: egui::Pos2, b: egui::Pos2, x: f32, y: f32| {
            (b.x - a.x) * (y - a.y) - (b.y - a.y) * (x - a.x)
        };
        let mut area = cross(v[0].pos, v[1].pos, v[2].pos.x, v[2].pos.y);
        if area == 0.0 || !area.is_finite() {
            return;
        }
        if area < 0.0 {
            v.swap(1, 2);
            area = -area;
        }
        let edges = [(1, 2), (2, 0), (0, 1)].map(|(a, b)| (v[a].pos, v[b].pos));
        let owns = edges.map(|(a, b)| (a.y == b.y && b.x > a.x) || b.y < a.y);
        let tints = v.map(|v| v.color.to_array().map(f32::from));
        let uniform = v.iter().all(|w| w.uv == v[0].uv && w.color == v[0].color);
        let only = uniform.then(|| tinted(tints[0], image.at(v[0].uv.x, v[0].uv.y)));
        let xs = v.map(|v| v.pos.x);
        let ys = v.map(|v| v.pos.y);
        let least = |x: [f32; 3]| (x[0].min(x[1]).min(x[2]) - 0.5).ceil().max(0.0) as usize;
        let most = |x: [f32; 3]| (x[0].max(x[1]).max(x[2]) + 0.5).floor().max(0.0) as usize;
        for y in least(ys).max(clip.top)..most(ys).min(clip.bottom) {
            for x in least(xs).max(clip.left)..most(xs).min(clip.right) {
                let (px, py) = (x as f32 + 0.5, y as f32 + 0.5);
                let w: [f32; 3] =
                    std::array::from_fn(|i| cross(edges[i].0, edges[i].1, px, py) / area);
                if (0..3).any(|i| w[i] < 0.0 || (w[i] == 0.0 && !owns[i])) {
                    continue;
                }
                let source = only.unwrap_or_else(|| {
                    let sum = |of: [f32; 3]| w[0] * of[0] + w[1] * of[1] + w[2] * of[2];
                    let tint = std::array::from_fn(|i| sum(tints.map(|t| t[i])));
                    let at = image.at(sum(v.map(|v| v.uv.x)), sum(v.map(|v| v.uv.y)));
                    tinted(tint, at)
                });
                let under = &mut self.dots[y * self.width + x];
                let through = 1.0 - source[3] / 255.0;
                for (under, over) in under.iter_mut().zip(source) {
                    *under = over + *under * through;
                }
            }
        }
    }
}

fn tinted(tint: [f32; 4], dot: [f32; 4]) -> [f32; 4] {
    std::array::from_fn(|i| tint[i] * dot[i] / 255.0)
}

impl Picture {
    /// Without so many pixels on each side.
    pub fn within(&self, margin: usize) -> Picture {
        let width = self.width.saturating_sub(2 * margin);
        let rows = self.rgba.chunks_exact(self.width * 4);
        let height = self.height.saturating_sub(2 * margin);
        let row = |row: &'_ [u8]| row[margin * 4..][..width * 4].to_vec();
        Picture {
            width,
            height,
            rgba: rows.skip(margin).take(height).flat_map(row).collect(),
        }
    }

    /// Writes it as PNG.
    ///
    /// # Errors
    /// If the file cannot be written.
    pub fn write_png(&self, path: &Path) -> io::Result<()> {
        let file = io::BufWriter::new(std::fs::File::create(path)?);
        let mut encoder = png::Encoder::new(file, self.width as u32, self.height as u32);
        encoder.set_color(png::ColorType::Rgba);
        encoder.set_depth(png::BitDepth::Eight);
        let mut writer = encoder.write_header().map_err(io::Error::other)?;
        writer
            .write_image_data(&self.rgba)
            .map_err(io::Error::other)?;
        writer.finish().map_err(io::Error::other)
    }

    /// How many colours are in it.
    pub fn colours(&self) -> usize {
        let mut colours: Vec<&[u8]> = self.rgba.chunks_exact(4).collect();
        colours.sort_unstable();
        colours.dedup();
        colours.len()
    }
}
