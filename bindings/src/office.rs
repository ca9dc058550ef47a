//! The office's server over blocking HTTP, for programs without an uploader of their own.
//!
//! Being out of reach is no error on a roof: it is one of the outcomes. The store is free for other
//! calls while the network is waited for.

use crate::Count;
use crate::device::Device;
use crate::error::ScupperError;
use crate::listener::{Moved, OfficeListener, UploadListener};
use crate::survey::Survey;
use scupper_client::{Client, ClientError, Stop};
use scupper_core::capture::Upload;
use std::fs::File;
use std::sync::Arc;

/// How far a call to the office came.
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Enum)]
pub enum Outcome {
    /// All was done.
    Done,
    /// The server could not be reached, now or any more: try when there is a signal.
    OutOfReach,
    /// The server does not know this device, or not any more: enrol it again.
    EnrolAgain,
    /// A `Stopper` ended it.
    Stopped,
}

/// What an exchange brought.
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Record)]
pub struct Levelled {
    /// How far it came; level only when done.
    pub outcome: Outcome,
    /// Changes of others that are new here.
    pub new_changes: Count,
}

/// What was sent.
#[derive(Debug, Clone, Copy, PartialEq, Eq, uniffi::Record)]
pub struct SentPhotos {
    /// How far it came.
    pub outcome: Outcome,
    /// Files that the server holds whole.
    pub files: Count,
    /// Bytes that went over the wire.
    pub bytes: u64,
    /// Files that the server did not take; they are offered again after the next exchange.
    pub put_off: Count,
}

/// What a device keeps of its enrolment, in the phone's safe place for secrets.
#[derive(Debug, Clone, PartialEq, Eq, uniffi::Record)]
pub struct Enrolled {
    /// Shown with every call; a secret.
    pub token: String,
    /// The name under which entries of this device are kept; for `Identity`.
    pub author: String,
}

/// Ends calls that wait for the network, from another thread.
#[derive(Default, uniffi::Object)]
pub struct Stopper(Stop);

#[uniffi::export]
impl Stopper {
    /// One that has not stopped anything yet.
    #[uniffi::constructor]
    pub fn new() -> Arc<Self> {
        Arc::default()
    }

    /// Ends the calls that were given this stopper, at once; only a connection that is just being
    /// made is waited for, ten seconds at most once its name was found. What was done stands.
    pub fn stop(&self) {
        self.0.stop();
    }
}

/// The office's server, as one enrolled device reaches it. Every call waits for the network: not
/// for the main thread.
#[derive(uniffi::Object)]
pub struct Office(Client);

/// Round trips after which two sides that are still not level are left for later.
const ROUNDS: u32 = 20;

#[uniffi::export]
impl Office {
    /// The server at this address, such as `https://office.example`, for a device that is enrolled.
    #[uniffi::constructor]
    pub fn at(server: &str, token: &str) -> Arc<Self> {
        Arc::new(Self(Client::new(server, token)))
    }

    /// Sends what is new here, takes in what is new there, until both are level.
    #[uniffi::method(default(stopper = None))]
    pub fn exchange(
        &self,
        survey: &Survey,
        stopper: Option<Arc<Stopper>>,
    ) -> Result<Levelled, ScupperError> {
        let client = self.client(stopper);
        let mut new_changes = 0;
        let levelled = |outcome, new_changes| {
            Ok(Levelled {
                outcome,
                new_changes,
            })
        };
        for _ in 0..ROUNDS {
            let message = survey.prepare_exchange()?;
            let answer = match client.exchange(&survey.id(), &message) {
                Ok(answer) => answer,
                Err(error) => return levelled(outcome(error)?, new_changes),
            };
            let brought = survey.accept_exchange(answer)?;
            new_changes += brought.new_changes;
            if !brought.again {
                return levelled(Outcome::Done, new_changes);
            }
        }
        Err(ScupperError::TryAgain {
            message: "the survey changed faster than it could be exchanged".to_owned(),
        })
    }

    /// Sends the photos that wait, smallest files first, each from where an earlier try broke off.
    #[uniffi::method(default(listener = None, stopper = None))]
    pub fn send_photos(
        &self,
        device: &Device,
        listener: Option<Arc<dyn UploadListener>>,
        stopper: Option<Arc<Stopper>>,
    ) -> Result<SentPhotos, ScupperError> {
        let mut sent = SentPhotos {
            outcome: Outcome::Done,
            files: 0,
            bytes: 0,
            put_off: 0,
        };
        let client = self.client(stopper);
        let mut seen = Vec::new();
        while let Some(upload) = device.next_upload()? {
            let file = (upload.hash.clone(), upload.part);
            // Those that were put off come again at the end.
            if seen.contains(&file) {
                break;
            }
            let bytes = match send(&client, &upload, listener.as_ref()) {
                Ok(bytes) => bytes,
                Err(error) => {
                    sent.outcome = outcome(error)?;
                    break;
                }
            };
            sent.files += usize::from(bytes.is_some());
            sent.put_off += usize::from(bytes.is_none());
            sent.bytes += bytes.unwrap_or_default();
            device.upload_result(&upload.hash, upload.part, bytes.is_some())?;
            seen.push(file);
        }
        Ok(sent)
    }

    /// Tells how a survey moves at the office: first that it is to be looked at, then whenever what
    /// is there is not what was told last. A connection that is lost is made again, at most a minute
    /// after the network is back, and nothing that changed meanwhile is missed. Returns when the
    /// stopper ends it, or when the office does not know this device any more.
    pub fn watch(
        &self,
        survey: &Survey,
        listener: Arc<dyn OfficeListener>,
        stopper: Arc<Stopper>,
    ) -> Result<Outcome, ScupperError> {
        let id = survey.id();
        outcome(self.client(Some(stopper)).watch(&id, &mut |event, _| {
            if let Some(moved) = Moved::of(event) {
                let _ = listener.moved(id.clone(), moved);
            }
        }))
    }

    /// What the server answers at an address below `/v1`, such as
    /// `/v1/surveys/{id}/assessment`, as text.
    pub fn read(&self, path: &str) -> Result<String, ScupperError> {
        let answer = self.0.get(path).map_err(|error| match outcome(error) {
            Ok(_) => ScupperError::TryAgain {
                message: "the server cannot be reached with this device's token".to_owned(),
            },
            Err(error) => error,
        })?;
        Ok(String::from_utf8_lossy(&answer).into_owned())
    }
}

impl Office {
    fn client(&self, stopper: Option<Arc<Stopper>>) -> Client {
        match stopper {
            Some(stopper) => self.0.ended_by(&stopper.0),
            None => self.0.clone(),
        }
    }
}

/// Sends one file; none when the server would not take it.
fn send(
    client: &Client,
    upload: &Upload,
    listener: Option<&Arc<dyn UploadListener>>,
) -> Result<Option<u64>, ClientError> {
    let mut file = File::open(&upload.path)?;
    let mut watch = |bytes: u64| {
        if let Some(listener) = listener {
            let _ = listener.sent(upload.hash.clone(), upload.part, bytes, upload.length);
        }
        client.stop().look()
    };
    let sent = client.upload_watched(&upload.create_path, &upload.headers, &mut file, &mut watch);
    match sent {
        Ok(sent) => Ok(sent.complete.then_some(sent.bytes)),
        Err(ClientError::Refused { status, .. })
            if (400..500).contains(&status) && status != 401 =>
        {
            Ok(None)
        }
        Err(other) => Err(other),
    }
}

/// Enrols this device with a code from the office: by whatever name it calls itself for good, and
/// the name its owner knows it by. Waits for the network.
#[uniffi::export]
pub fn enrol(
    server: &str,
    code: &str,
    device_id: &str,
    device_name: &str,
) -> Result<Enrolled, ScupperError> {
    match Client::enrol(server, code, device_id, device_name) {
        Ok((client, author)) => Ok(Enrolled {
            token: client.token().to_owned(),
            author,
        }),
        Err(ClientError::Refused { status, detail }) if (400..500).contains(&status) => {
            Err(ScupperError::BadInput { message: detail })
        }
        Err(error) => Err(ScupperError::TryAgain {
            message: error.to_string(),
        }),
    }
}

/// What a failed call means: an outcome that is ordinary on a roof, or an error.
fn outcome(error: ClientError) -> Result<Outcome, ScupperError> {
    let message = error.to_string();
    match error {
        ClientError::Unreachable(_) => Ok(Outcome::OutOfReach),
        ClientError::Refused { status: 401, .. } => Ok(Outcome::EnrolAgain),
        ClientError::Stopped => Ok(Outcome::Stopped),
        ClientError::Refused { status: 404, .. } => Err(ScupperError::NotFound { message }),
        ClientError::Refused { .. } | ClientError::BadAnswer(_) | ClientError::File(_) => {
            Err(ScupperError::TryAgain { message })
        }
    }
}
