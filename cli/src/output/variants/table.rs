//! The table of a batch, a row a point: CSV for a spreadsheet, Parquet (one row group, uncompressed) with plan, version and seed in
//! its metadata. The same batch gives the same bytes.

use super::Batch;
use parquet::basic::{ConvertedType, Repetition, Type as Physical};
use parquet::data_type::{ByteArray, ByteArrayType, DoubleType, Int64Type};
use parquet::errors::ParquetError;
use parquet::file::metadata::KeyValue;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::SerializedFileWriter;
use parquet::schema::types::Type;
use serde_json::Value;
use std::sync::Arc;

/// A table that could not be written.
#[derive(Debug, thiserror::Error)]
pub enum TableError {
    /// In CSV.
    #[error("results.csv: {0}")]
    Csv(#[from] csv::Error),
    /// In Parquet.
    #[error("results.parquet: {0}")]
    Parquet(#[from] ParquetError),
}

/// A value without quotation marks.
pub fn plain(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

/// The table as CSV (RFC 4180, lines ended by LF), numbers in as many digits as bring them back exactly.
///
/// # Errors
/// When it cannot be written.
pub fn csv(batch: &Batch) -> Result<Vec<u8>, TableError> {
    let mut out = csv::Writer::from_writer(Vec::new());
    let variables = batch.plan.variables.iter().map(|v| v.pointer.as_str());
    let kept = batch.plan.kept.iter().map(|k| k.name.as_str());
    out.write_record(["point"].into_iter().chain(variables).chain(kept).chain(["error"]))?;
    for (n, (values, row)) in batch.points.iter().zip(batch.rows).enumerate() {
        let kept = row.kept.iter().map(|k| k.map_or_else(String::new, |x| Value::from(x).to_string()));
        let cells = std::iter::once((n + 1).to_string()).chain(values.iter().map(plain)).chain(kept);
        out.write_record(cells.chain([row.error.clone()]))?;
    }
    out.into_inner().map_err(|e| TableError::Csv(e.into_error().into()))
}

/// The table as Parquet: `point` and `error` in every row, varied values as numbers where all are, else as text, kept results as
/// numbers that may be missing.
///
/// # Errors
/// When it cannot be written.
pub fn parquet(batch: &Batch) -> Result<Vec<u8>, TableError> {
    let field = |name: &str, physical: Physical, repetition: Repetition| {
        let text = if physical == Physical::BYTE_ARRAY { ConvertedType::UTF8 } else { ConvertedType::NONE };
        let built = Type::primitive_type_builder(name, physical).with_repetition(repetition);
        built.with_converted_type(text).build().map(Arc::new)
    };
    let (number, text) = (Physical::DOUBLE, Physical::BYTE_ARRAY);
    let mut fields = vec![field("point", Physical::INT64, Repetition::REQUIRED)?];
    for v in &batch.plan.variables {
        fields.push(field(&v.pointer, if v.variation.is_number() { number } else { text }, Repetition::REQUIRED)?);
    }
    for k in &batch.plan.kept {
        fields.push(field(&k.name, number, Repetition::OPTIONAL)?);
    }
    fields.push(field("error", text, Repetition::REQUIRED)?);
    let schema = Arc::new(Type::group_type_builder("variants").with_fields(fields).build()?);
    let version = env!("CARGO_PKG_VERSION");
    let notes = [
        ("modalith.plan", batch.plan.value().to_string()),
        ("modalith.version", version.to_owned()),
        ("modalith.seed", batch.plan.sampling.seed.to_string()),
        ("modalith.device", batch.device.to_owned()),
        ("modalith.model", batch.model.to_owned()),
    ];
    let properties = WriterProperties::builder()
        .set_created_by(format!("modalith {version}"))
        .set_key_value_metadata(Some(notes.map(|(k, v)| KeyValue::new(k.to_owned(), v)).to_vec()))
        .build();
    let mut out = Vec::new();
    let mut file = SerializedFileWriter::new(&mut out, schema, Arc::new(properties))?;
    let mut group = file.next_row_group()?;
    let mut columns = columns(batch).into_iter();
    while let Some(mut writer) = group.next_column()? {
        match columns.next() {
            Some(Column::Whole(values)) => writer.typed::<Int64Type>().write_batch(&values, None, None)?,
            Some(Column::Number(values, levels)) => {
                writer.typed::<DoubleType>().write_batch(&values, levels.as_deref(), None)?
            }
            Some(Column::Text(values)) => {
                let values: Vec<ByteArray> = values.iter().map(|t| ByteArray::from(t.as_str())).collect();
                writer.typed::<ByteArrayType>().write_batch(&values, None, None)?
            }
            None => 0,
        };
        writer.close()?;
    }
    group.close()?;
    file.close()?;
    Ok(out)
}

/// A column in the order of points; numbers with their definition levels where some may be missing.
enum Column {
    Whole(Vec<i64>),
    Number(Vec<f64>, Option<Vec<i16>>),
    Text(Vec<String>),
}

fn columns(batch: &Batch) -> Vec<Column> {
    let varied = |(j, v): (usize, &crate::plan::Variable)| {
        let cells = batch.points.iter().map(|p| &p[j]);
        if v.variation.is_number() {
            Column::Number(cells.map(|c| c.as_f64().unwrap_or(f64::NAN)).collect(), None)
        } else {
            Column::Text(cells.map(plain).collect())
        }
    };
    let kept = |k: usize| {
        let levels = batch.rows.iter().map(|r| i16::from(r.kept[k].is_some())).collect();
        Column::Number(batch.column(k), Some(levels))
    };
    std::iter::once(Column::Whole((1..=batch.points.len() as i64).collect()))
        .chain(batch.plan.variables.iter().enumerate().map(varied))
        .chain((0..batch.plan.kept.len()).map(kept))
        .chain([Column::Text(batch.rows.iter().map(|r| r.error.clone()).collect())])
        .collect()
}
