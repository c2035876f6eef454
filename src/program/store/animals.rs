//! Animals and the names they have had.

use jiff::Timestamp;
use rusqlite::params;

use super::session::{micros, moment};
use super::{AnimalId, Store, StoreError};

/// An animal as the database knows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AnimalRow {
    /// Its key.
    pub id: AnimalId,
    /// Its present name.
    pub name: String,
    /// Its species.
    pub species: String,
    /// Something to tell it from others of its name.
    pub note: Option<String>,
    /// Every name it has had, the present one included, oldest first.
    pub names: Vec<String>,
    /// Number of its sessions.
    pub sessions: u64,
    /// When its latest session began.
    pub latest: Option<Timestamp>,
}

const COLUMNS: &str = "a.id, a.name, a.species, a.note, a.no,
    (SELECT count(*) FROM session s WHERE s.animal = a.no),
    (SELECT max(began_us) FROM session s WHERE s.animal = a.no)";

impl Store {
    /// Every animal, by name.
    ///
    /// # Errors
    /// The database cannot be read.
    pub fn animals(&self) -> Result<Vec<AnimalRow>, StoreError> {
        self.animal_rows(&format!("SELECT {COLUMNS} FROM animal a ORDER BY a.name, a.no"), &[])
    }

    /// The one animal that has or had this name; with a species, the one of that species.
    ///
    /// # Errors
    /// There is none, or there are several.
    pub fn find_animal(&self, name: &str, species: Option<&str>) -> Result<AnimalRow, StoreError> {
        let sql = format!(
            "SELECT {COLUMNS} FROM animal a JOIN animal_name n ON n.animal = a.no
             WHERE n.name = ?1 AND (?2 IS NULL OR a.species = ?2 COLLATE NOCASE) ORDER BY a.no",
        );
        let mut found = self.animal_rows(&sql, &[&name, &species])?;
        // Who has the name now goes before who had it once.
        let present = |row: &AnimalRow| row.name.eq_ignore_ascii_case(name);
        if found.len() > 1 && found.iter().filter(|row| present(row)).count() == 1 {
            found.retain(present);
        }
        match found.len() {
            0 => Err(StoreError::NoAnimal(name.to_owned())),
            1 => Ok(found.remove(0)),
            count => Err(StoreError::SeveralAnimals { name: name.to_owned(), count }),
        }
    }

    /// Gives an animal another name; the old ones still find it.
    ///
    /// # Errors
    /// There is no such animal, the name is empty, or the database cannot be written.
    pub fn rename_animal(
        &self,
        id: AnimalId,
        name: &str,
        since: Timestamp,
    ) -> Result<(), StoreError> {
        let tx = self.write()?;
        let done = tx.execute("UPDATE animal SET name = ?2 WHERE id = ?1", params![id, name])?;
        if done == 0 {
            return Err(StoreError::NoAnimal(id.to_string()));
        }
        tx.execute(
            "INSERT OR REPLACE INTO animal_name (animal, name, since_us)
             SELECT no, ?2, ?3 FROM animal WHERE id = ?1",
            params![id, name, micros(since)],
        )?;
        Ok(tx.commit()?)
    }

    fn animal_rows(
        &self,
        sql: &str,
        values: &[&dyn rusqlite::ToSql],
    ) -> Result<Vec<AnimalRow>, StoreError> {
        let mut names = self.conn.prepare_cached(
            "SELECT name FROM animal_name WHERE animal = ?1 ORDER BY since_us, name",
        )?;
        let mut statement = self.conn.prepare_cached(sql)?;
        let mut rows = statement.query(values)?;
        let mut animals = Vec::new();
        while let Some(row) = rows.next()? {
            let no: i64 = row.get(4)?;
            animals.push(AnimalRow {
                id: row.get(0)?,
                name: row.get(1)?,
                species: row.get(2)?,
                note: row.get(3)?,
                names: names.query_map([no], |row| row.get(0))?.collect::<Result<_, _>>()?,
                sessions: u64::try_from(row.get::<_, i64>(5)?).unwrap_or(0),
                latest: row.get::<_, Option<i64>>(6)?.map(moment),
            });
        }
        Ok(animals)
    }
}
