//! Keys of stored things. Made elsewhere (a clock and a source of chance are needed); here only values.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

macro_rules! id {
    ($(#[$doc:meta])* $name:ident) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub Uuid);

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl $name {
            /// From a stored value.
            #[allow(dead_code, reason = "made for every sort of key")]
            pub(super) fn of(value: rusqlite::types::ValueRef<'_>) -> rusqlite::Result<Self> {
                Ok(<Self as rusqlite::types::FromSql>::column_result(value)?)
            }
        }

        impl FromStr for $name {
            type Err = uuid::Error;
            fn from_str(text: &str) -> Result<Self, uuid::Error> {
                text.parse().map($name)
            }
        }

        impl rusqlite::ToSql for $name {
            fn to_sql(&self) -> rusqlite::Result<rusqlite::types::ToSqlOutput<'_>> {
                Ok(self.0.as_bytes().as_slice().into())
            }
        }

        impl rusqlite::types::FromSql for $name {
            fn column_result(value: rusqlite::types::ValueRef<'_>) -> rusqlite::types::FromSqlResult<Self> {
                <[u8; 16]>::column_result(value).map(|bytes| $name(Uuid::from_bytes(bytes)))
            }
        }
    };
}

id!(
    /// Key of a session (UUIDv7).
    SessionId
);
id!(
    /// Key of an event in a session or of a journal entry (UUIDv7).
    EventId
);
id!(
    /// Key of an animal: the key of the session or journal entry that first named it.
    AnimalId
);
