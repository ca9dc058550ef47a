//! Files in an S3-compatible object store, by a key.

use crate::error::AppError;
use object_store::aws::AmazonS3Builder;
use object_store::path::Path;
use object_store::{ObjectStore, PutPayload};
use std::sync::Arc;

/// A bucket, or a part of one; cheap to clone.
#[derive(Debug, Clone)]
pub(crate) struct Objects {
    store: Arc<dyn ObjectStore>,
    prefix: String,
}

impl Objects {
    /// Opens `s3://BUCKET` or `s3://BUCKET/PREFIX`. Endpoint, region and keys come from the usual
    /// environment (`AWS_ENDPOINT`, `AWS_REGION`, `AWS_ACCESS_KEY_ID`, `AWS_SECRET_ACCESS_KEY`).
    pub(crate) fn open(url: &str) -> Result<Self, AppError> {
        let unusable = |problem: String| {
            AppError::Unusable(format!("objects {url}: {problem}; give s3://BUCKET/PREFIX"))
        };
        let place = url
            .strip_prefix("s3://")
            .ok_or_else(|| unusable("is no address of a bucket".to_owned()))?;
        let (bucket, prefix) = place.split_once('/').unwrap_or((place, ""));
        let plain = std::env::var("AWS_ENDPOINT").is_ok_and(|at| at.starts_with("http://"));
        let store = AmazonS3Builder::from_env()
            .with_bucket_name(bucket)
            .with_allow_http(plain)
            .build()
            .map_err(|error| unusable(error.to_string()))?;
        Ok(Self {
            store: Arc::new(store),
            prefix: prefix.trim_matches('/').to_owned(),
        })
    }

    fn key(&self, name: &str) -> Path {
        Path::from(format!("{}/{name}", self.prefix))
    }

    /// Keeps an object; durable when it returns.
    pub(super) async fn put(self, name: String, bytes: Vec<u8>) -> Result<(), AppError> {
        let payload = PutPayload::from(bytes);
        let put = self.store.put(&self.key(&name), payload).await;
        put.map(|_| ())
            .map_err(|error| AppError::internal("object store", error))
    }

    /// An object's bytes, if it is there.
    pub(super) async fn get(self, name: String) -> Result<Option<Vec<u8>>, AppError> {
        let failed = |error| AppError::internal("object store", error);
        match self.store.get(&self.key(&name)).await {
            Ok(found) => Ok(Some(found.bytes().await.map_err(failed)?.to_vec())),
            Err(object_store::Error::NotFound { .. }) => Ok(None),
            Err(error) => Err(failed(error)),
        }
    }
}
