-- How each link of a chain went in a try, in the order of the links: `independent prompted:2 failed not_reached untrained`. Of
-- behaviours that are not chains it is empty, so that rows of old records stay as they are.
ALTER TABLE rep ADD COLUMN links TEXT;
