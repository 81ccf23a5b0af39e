-- One row per : row taken x open row that could not be split before and holds its words
-- Reads       : quarantine, read_row, decided, refused
-- Parameters  : table VARCHAR
-- Returns     : quarantine_id BIGINT
--             : file VARCHAR
--             : row_no BIGINT
-- Order       : quarantine_id, file, row_no

with taken as (

    select
        r.*,
        d.verdict,
        json_extract_string(r.row_json, '$.*') as words,
        json_extract_string(r.row_key, '$[*]') as keys,
        -- year and day of its closing: a month may stand in words
        regexp_replace(r.row_json ->> '$.closed_on', '(\d{4})(\d\d)(\d\d)', '\1-\2-\3') as day,
        list_transform(
            list_filter([split_part(day, '-', 1), split_part(day, '-', 3)], lambda part: part != ''),
            lambda part: try_cast(right(part, 2) as integer)
        ) as closed
    from read_row as r
    inner join decided as d
        on r.n = d.n and d.verdict in ('new', 'revised', 'unchanged', 'repeated')

),

still_refused as (

    select r.*
    from read_row as r
    semi join refused using (n)

),

in_text as (

    select
        quarantine_id,
        feed_source,
        file,
        row_no,
        row_json ->> '$."unread text"' as told,
        list_distinct(list_transform(regexp_split_to_array(told, '[,;\t|"]'), lambda word: trim(word))) as words,
        regexp_extract_all(regexp_replace(told, '(\d{4})(\d\d)(\d\d)', '\1-\2-\3', 'g'), '\d+') as parts,
        list_transform(parts, lambda part: right(part, 2)::integer) as figures
    from quarantine as q
    anti join still_refused as f on q.feed_source = f.feed_source and q.row_hash = f.row_hash
    where table_name = $table and status = 'open' and json_exists(row_json, '$."unread text"')

),

word as (

    select
        quarantine_id,
        feed_source,
        unnest(words) as word
    from in_text

),

mended as (

    -- at its place, where half of what is read now, and the day, stand in the text, whatever the marks between
    select
        q.quarantine_id,
        t.file,
        t.row_no
    from in_text as q
    inner join taken as t using (feed_source, file, row_no)
    where
        t.verdict in ('new', 'revised')
        and list_has_all(q.figures, coalesce(t.closed, []))
        and list_avg(list_transform(t.words, lambda word: contains(q.told, word)::integer)) >= 0.5
    union
    -- anywhere, where its key and half of what is read are words of the text, and the day stands there
    select
        q.quarantine_id,
        t.file,
        t.row_no
    from word as w
    inner join taken as t on w.feed_source = t.feed_source and w.word = trim(t.keys[1])
    inner join in_text as q on w.quarantine_id = q.quarantine_id
    where
        (t.verdict in ('new', 'revised') or (q.file = t.file and q.row_no = t.row_no))
        and list_has_all(q.figures, coalesce(t.closed, []))
        and list_has_all(q.words, list_filter(t.keys, lambda key: list_contains(t.words, key)))
        and list_avg(list_transform(t.words, lambda word: list_contains(q.words, word)::integer)) >= 0.5

)

select
    quarantine_id,
    file,
    row_no
from mended
order by quarantine_id, file, row_no
