//! A file with a take in it, shaped or not, and the take that lies beside it.

/// The bytes of a file, and of the take that lies beside it where there is one.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TakeBytes<'a> {
    /// The file.
    pub bytes: &'a [u8],
    /// The take beside it. It is used only if the file is shaped, its own record is gone, and it is
    /// the take that was shaped.
    pub beside: Option<&'a [u8]>,
}

impl<'a, T: AsRef<[u8]> + ?Sized> From<&'a T> for TakeBytes<'a> {
    fn from(bytes: &'a T) -> TakeBytes<'a> {
        TakeBytes { bytes: bytes.as_ref(), beside: None }
    }
}
