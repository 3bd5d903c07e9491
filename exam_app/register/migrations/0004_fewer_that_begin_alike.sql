-- How a word begins may be true of most animals; at most some hundred of them are
-- opened and looked at, so that a thousand are enough, and cost a fifth of before.
ALTER FUNCTION register.animals_beginning(bigint, integer)
    SET gin_fuzzy_search_limit = 1000;
