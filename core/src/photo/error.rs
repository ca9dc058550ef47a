//! What can be wrong with a photo. The file was not kept and nothing was changed.

/// A photo that is not taken in.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PhotoError {
    /// The file is too big.
    #[error("the photo has {bytes} bytes; at most {most} are taken")]
    TooManyBytes {
        /// Its size.
        bytes: u64,
        /// The limit.
        most: u64,
    },
    /// The picture would unfold to too much.
    #[error("the picture is {width} x {height} pixels; at most {most} pixels are taken")]
    TooManyPixels {
        /// Its width, as the header says.
        width: u32,
        /// Its height, as the header says.
        height: u32,
        /// The limit of width times height.
        most: u64,
    },
    /// The file begins like no image.
    #[error("the file is not an image; give a JPEG, PNG, HEIC, AVIF, WebP or TIFF")]
    NotAnImage,
    /// The preview of a file of another type is not readable.
    #[error("the preview is not a JPEG; hand in a JPEG of the same picture, or none")]
    PreviewNotJpeg,
    /// The file breaks off.
    #[error("the picture breaks off before its end; take or copy it again")]
    Truncated,
    /// The file begins like an image and is none.
    #[error("the picture cannot be read: {problem}")]
    Broken {
        /// What the decoder said.
        problem: String,
    },
}
