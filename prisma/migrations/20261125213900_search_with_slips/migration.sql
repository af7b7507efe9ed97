-- Rows whose words are nearly those asked for: "causway" is .55 like "causeway". The function carries its own
-- threshold, so that the indexes serve it whoever is connected.
CREATE FUNCTION clients_nearly(asked text) RETURNS SETOF uuid LANGUAGE sql STABLE SET pg_trgm.word_similarity_threshold = 0.45 AS $$
  SELECT id FROM client WHERE asked <% lower(name || ' ' || coalesce(email, ''));
$$;
CREATE FUNCTION contacts_nearly(asked text) RETURNS SETOF uuid LANGUAGE sql STABLE SET pg_trgm.word_similarity_threshold = 0.45 AS $$
  SELECT id FROM contact WHERE asked <% lower(name || ' ' || coalesce(email, ''));
$$;
CREATE FUNCTION sites_nearly(asked text) RETURNS SETOF uuid LANGUAGE sql STABLE SET pg_trgm.word_similarity_threshold = 0.45 AS $$
  SELECT id FROM site WHERE asked <% lower(address || ' ' || town || ' ' || coalesce(postal_code, ''));
$$;
