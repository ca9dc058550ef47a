//! The photos of a survey, fit for paper, by photo id. A photo that is missing or broken leaves a
//! gap with its name and reason; it never stops a paper. [`super::fit`] makes one of them small.

use super::fit::fit;
use scupper_core::survey::{Photo, Survey};
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

/// Where photos are kept.
pub trait Shelf: Sync {
    /// The bytes of a photo as JPEG or PNG, a thumbnail where there is one; or why there are none.
    fn bytes(&self, photo: &Photo) -> Result<Vec<u8>, String>;
}

/// A shelf without a single photo.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoPictures;

impl Shelf for NoPictures {
    fn bytes(&self, _: &Photo) -> Result<Vec<u8>, String> {
        Err("not uploaded yet".to_owned())
    }
}

/// A photo fit for paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// JPEG bytes.
    pub jpeg: Arc<Vec<u8>>,
    /// Width in pixels.
    pub width: u32,
    /// Height in pixels.
    pub height: u32,
}

/// All photos of a survey, fit for paper, by photo id.
#[derive(Debug, Clone, Default)]
pub struct Pictures {
    by_id: BTreeMap<String, Result<Picture, String>>,
}

impl Pictures {
    /// Prepares every photo that was not withdrawn; `done` is told after each how many are.
    pub fn prepare(survey: &Survey, shelf: &dyn Shelf, done: &(dyn Fn(usize) + Sync)) -> Self {
        let wanted: Vec<&Photo> = shown(survey).collect();
        let threads = std::thread::available_parallelism()
            .map_or(1, usize::from)
            .min(8);
        let next = std::sync::atomic::AtomicUsize::new(0);
        let finished = std::sync::atomic::AtomicUsize::new(0);
        let order = std::sync::atomic::Ordering::Relaxed;
        let work = || {
            let mut mine = Vec::new();
            while let Some(photo) = wanted.get(next.fetch_add(1, order)) {
                let make = || {
                    let bytes = shelf.bytes(photo)?;
                    fit(&bytes, photo.turned_deg)
                };
                // A decoder that gives up on a file costs the paper that photo alone.
                let picture = catch_unwind(AssertUnwindSafe(make))
                    .unwrap_or_else(|_| Err("cannot be read as a picture".to_owned()));
                mine.push((photo.id.clone(), picture));
                done(finished.fetch_add(1, order) + 1);
            }
            mine
        };
        let by_id = std::thread::scope(|scope| {
            let workers: Vec<_> = (0..threads).map(|_| scope.spawn(work)).collect();
            let parts = workers
                .into_iter()
                .map(|worker| worker.join().unwrap_or_default());
            parts.flatten().collect()
        });
        Self { by_id }
    }

    /// A photo, or why it cannot be shown.
    pub fn get(&self, photo: &Photo) -> Result<&Picture, &str> {
        match self.by_id.get(&photo.id) {
            Some(Ok(picture)) => Ok(picture),
            Some(Err(why)) => Err(why),
            None => Err("not prepared"),
        }
    }

    /// A photo that can be shown, by its id.
    pub(super) fn by_id(&self, id: &str) -> Option<&Picture> {
        self.by_id.get(id)?.as_ref().ok()
    }

    /// Photos that cannot be shown, with the reason.
    pub fn gaps<'a>(&'a self, survey: &'a Survey) -> impl Iterator<Item = (&'a Photo, &'a str)> {
        shown(survey).filter_map(|photo| Some((photo, self.get(photo).err()?)))
    }
}

/// The photos of a survey that nobody withdrew.
pub(super) fn shown(survey: &Survey) -> impl Iterator<Item = &Photo> {
    survey
        .photos
        .iter()
        .filter(|photo| photo.withdrawn_by.is_none())
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used)]
    use super::*;
    use image::codecs::jpeg::JpegEncoder;

    fn photo(id: &str) -> Photo {
        Photo {
            id: id.to_owned(),
            ..Photo::default()
        }
    }

    struct Two;
    impl Shelf for Two {
        fn bytes(&self, photo: &Photo) -> Result<Vec<u8>, String> {
            match photo.id.as_str() {
                "good" => {
                    let mut bytes = Vec::new();
                    let picture = image::RgbImage::from_pixel(1280, 800, image::Rgb([200, 20, 20]));
                    picture
                        .write_with_encoder(JpegEncoder::new(&mut bytes))
                        .map_err(|error| error.to_string())?;
                    Ok(bytes)
                }
                "panics" => unreachable!("a file that no decoder foresaw"),
                _ => Ok(b"no picture at all".to_vec()),
            }
        }
    }

    #[test]
    fn a_broken_photo_is_a_named_gap() {
        let survey = Survey {
            photos: ["bad", "good", "panics"].map(photo).to_vec(),
            ..Survey::default()
        };
        let pictures = Pictures::prepare(&survey, &Two, &|_| {});
        let good = pictures.get(&survey.photos[1]).unwrap();
        assert_eq!((good.width, good.height), (512, 320));
        let gaps = pictures.gaps(&survey);
        let gaps: Vec<_> = gaps.map(|(photo, why)| (&*photo.id, &why[..27])).collect();
        let unreadable = "cannot be read as a picture";
        assert_eq!(gaps, [("bad", unreadable), ("panics", unreadable)]);
    }
}
